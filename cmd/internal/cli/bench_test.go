package cli

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

func run(b testing.TB, args ...string) {
	var out, errs bytes.Buffer
	if code := Run(args, Streams{In: os.Stdin, Out: &out, Err: &errs, Now: clock}); code != exitOK {
		b.Fatalf("mealtrial %v: exit %d\n%s", args, code, errs.String())
	}
}

// The whole demo is to be done within 3 s.
func BenchmarkDemo(b *testing.B) {
	dir := filepath.Join(b.TempDir(), "demo")
	for b.Loop() {
		run(b, "demo", "--dir", dir)
	}
}

// The analysis of the demo is to be done within 0.5 s.
func BenchmarkAnalyseDemo(b *testing.B) {
	dir := filepath.Join(b.TempDir(), "demo")
	run(b, "demo", "--dir", dir)
	for b.Loop() {
		run(b, "analyse", dir)
	}
}

// The program is to start within 40 ms.
func BenchmarkStart(b *testing.B) {
	binary := filepath.Join(b.TempDir(), "mealtrial")
	if out, err := exec.Command("go", "build", "-o", binary, "mealtrial/cmd/mealtrial").CombinedOutput(); err != nil {
		b.Fatalf("%v\n%s", err, out)
	}
	for b.Loop() {
		if err := exec.Command(binary, "--version").Run(); err != nil {
			b.Fatal(err)
		}
	}
}

// Power for 2 to 8 repeats is to be done within 1 s.
func BenchmarkPower(b *testing.B) {
	dir := filepath.Join(b.TempDir(), "demo")
	run(b, "demo", "--dir", dir)
	for b.Loop() {
		run(b, "power", dir, "--sd", "9", "--sd-df", "4", "--difference", "20")
	}
}

// The report of the demo is to be done within 2 s.
func BenchmarkReport(b *testing.B) {
	dir := filepath.Join(b.TempDir(), "demo")
	run(b, "demo", "--dir", dir)
	for b.Loop() {
		run(b, "report", dir)
	}
}

// A picture is to be done within 0.5 s.
func BenchmarkFigure(b *testing.B) {
	dir := filepath.Join(b.TempDir(), "demo")
	run(b, "demo", "--dir", dir)
	for _, name := range []string{figureDifferences, figureFoods, figureCurves, figureOrder} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				run(b, "figure", name, dir, "--out", filepath.Join(b.TempDir(), "x.png"), "--overwrite")
			}
		})
	}
}
