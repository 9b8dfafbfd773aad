//go:build unix

package cli

import (
	"bufio"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"

	"mealtrial/protocol"
)

// BenchmarkLimits measures the built program on studies up to the limits that the
// README names: go test -run XXX -bench Limits -benchtime 1x ./cmd/internal/cli.
// All data are invented.
func BenchmarkLimits(b *testing.B) {
	binary := filepath.Join(b.TempDir(), "mealtrial")
	if out, err := exec.Command("go", "build", "-o", binary, "mealtrial/cmd/mealtrial").CombinedOutput(); err != nil {
		b.Fatalf("%v\n%s", err, out)
	}
	for _, years := range []int{1, 2, 5, 10} {
		dir := longRecording(b, years)
		b.Run(fmt.Sprintf("readings/%d-years", years), func(b *testing.B) { measureLimits(b, binary, "check", dir) })
	}
	for _, foods := range []int{20, 50, 100, 200} {
		dir := limitStudy(b, binary, foods)
		b.Run(fmt.Sprintf("tests/%d-foods-%d-tests", foods, 10*foods), func(b *testing.B) { measureLimits(b, binary, "analyse", dir) })
	}
}

// measureLimits runs the program and reports processor time and the most memory.
func measureLimits(b *testing.B, binary, command, dir string) {
	var most int64
	var processor time.Duration
	for b.Loop() {
		_ = os.Remove(filepath.Join(dir, protocol.LedgerFile))
		cmd := exec.Command(binary, command, dir)
		if out, err := cmd.CombinedOutput(); err != nil {
			b.Fatalf("%v\n%s", err, out)
		}
		processor += cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()
		if usage, ok := cmd.ProcessState.SysUsage().(*syscall.Rusage); ok {
			most = max(most, int64(usage.Maxrss))
		}
	}
	if runtime.GOOS == "darwin" { // counts bytes, the others KiB
		most /= 1024
	}
	b.ReportMetric(float64(most)/1024, "MB")
	b.ReportMetric(processor.Seconds()/float64(b.N), "cpu-s/op")
}

// longRecording is a study of 20 tests in years of readings, one every five minutes.
func longRecording(b *testing.B, years int) string {
	dir := b.TempDir()
	readings := filepath.Join(dir, protocol.ReadingsDir)
	if err := os.Mkdir(readings, 0o755); err != nil {
		b.Fatal(err)
	}
	start := time.Date(2017, 1, 2, 0, 0, 0, 0, time.UTC)
	var log strings.Builder
	for i := range 20 {
		fmt.Fprintf(&log, "---\n{date: %s, time: \"07:30\", food: f%d, block: %d}\n", start.AddDate(0, 0, 1+i*years*17).Format(time.DateOnly), i%2, 1+i/2)
	}
	for name, text := range map[string]string{protocol.LogFile: log.String(),
		protocol.StudyFile: "zone: UTC\nendpoint: {name: peak_rise, unit: mg/dL}\nmargin: 5\nfoods: [{id: f0, role: reference}, f1]\nquestions: [f1 vs f0]\n"} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			b.Fatal(err)
		}
	}
	for year := range years {
		file, err := os.Create(filepath.Join(readings, fmt.Sprintf("year-%02d.csv", year+1)))
		if err != nil {
			b.Fatal(err)
		}
		w := bufio.NewWriter(file)
		fmt.Fprintln(w, "Local time,Glucose (mg/dL)")
		from := start.AddDate(year, 0, 0)
		for i, at := 0, from; at.Before(start.AddDate(year+1, 0, 0)); i, at = i+1, at.Add(5*time.Minute) {
			fmt.Fprintf(w, "%s,%d\n", at.Format("2006-01-02 15:04:05"), 90+(i*i/7)%45)
		}
		if err := w.Flush(); err != nil {
			b.Fatal(err)
		}
		if err := file.Close(); err != nil {
			b.Fatal(err)
		}
	}
	return dir
}

// limitStudy is a rehearsed study: foods, each tested ten times, one test a day, every
// food asked against the reference.
func limitStudy(b *testing.B, binary string, foods int) string {
	from, dir := b.TempDir(), filepath.Join(b.TempDir(), "study")
	var study strings.Builder
	study.WriteString("zone: UTC\nendpoint: {name: peak_rise, unit: mg/dL}\nmargin: 5\n" +
		"safety: {glucose_lowering_medication: no, pregnancy: no, eating_disorder: no, ketoacidosis_before: no}\nfoods:\n")
	truth := make([]string, foods)
	for i := range foods {
		fmt.Fprintf(&study, "  - {id: f%d%s}\n", i, map[bool]string{true: ", role: reference"}[i == 0])
		truth[i] = fmt.Sprintf("f%d=%d", i, 20+i%30)
	}
	study.WriteString("questions: [each vs reference]\nplan: {start: 2017-01-02, until: 2026-12-20, repeats: 10, washout: 0, consecutive: allowed}\n")
	if err := os.WriteFile(filepath.Join(from, protocol.StudyFile), []byte(study.String()), 0o644); err != nil {
		b.Fatal(err)
	}
	for _, args := range [][]string{{"plan", from}, {"rehearse", from, "--truth", strings.Join(truth, ","), "--dir", dir}} {
		if out, err := exec.Command(binary, args...).CombinedOutput(); err != nil {
			b.Fatalf("%v\n%s", err, out)
		}
	}
	return dir
}
