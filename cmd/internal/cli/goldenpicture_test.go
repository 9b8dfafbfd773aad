package cli

import (
	"bytes"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Pictures of the demo, held against files in testdata/golden that -update rewrites.
// They may differ in few pixels: edges are smoothed by sums that differ in their last
// digit from processor to processor.
func TestGoldenPictures(t *testing.T) {
	const (
		visible = 16    // of 255, in any channel
		share   = 0.001 // of the pixels
	)
	dir := filepath.Join(t.TempDir(), "study")
	run := func(args ...string) []byte {
		t.Helper()
		var out, errs bytes.Buffer
		if code := Run(args, Streams{In: strings.NewReader(""), Out: &out, Err: &errs, Now: clock}); code != exitOK {
			t.Fatalf("%v: exit %d: %s", args, code, errs.String())
		}
		return out.Bytes()
	}
	run("demo", "--dir", dir)
	file := filepath.Join(t.TempDir(), "picture.png")
	for name, args := range map[string][]string{
		"differences": {"figure", "differences", dir, "--scale", "1"},
		"foods":       {"figure", "foods", dir, "--scale", "1"},
		"curves":      {"figure", "curves", dir, "--scale", "1"},
		"order":       {"figure", "order", dir, "--scale", "1"},
		"card":        {"card", "lupin vs wheat", dir, "--portrait"},
	} {
		run(append(args, "--out", file, "--overwrite")...)
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		golden := filepath.Join("testdata", "golden", name+".png")
		if *update {
			if err := os.WriteFile(golden, data, 0o644); err != nil {
				t.Fatal(err)
			}
			continue
		}
		kept, err := os.ReadFile(golden)
		if err != nil {
			t.Fatal(err)
		}
		got, want := decodePNG(t, data), decodePNG(t, kept)
		if got.Bounds() != want.Bounds() {
			t.Errorf("%s: %v, was %v", name, got.Bounds(), want.Bounds())
			continue
		}
		differ, all := 0, 0
		for y := got.Bounds().Min.Y; y < got.Bounds().Max.Y; y++ {
			for x := got.Bounds().Min.X; x < got.Bounds().Max.X; x++ {
				all++
				if apart(got, want, x, y) > visible {
					differ++
				}
			}
		}
		if float64(differ) > share*float64(all) {
			t.Errorf("%s: %d of %d pixels differ (look at it, then rewrite it with -update)", name, differ, all)
		}
	}
}

func decodePNG(t *testing.T, data []byte) image.Image {
	t.Helper()
	picture, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	return picture
}

// apart is the largest difference of two pixels in any channel, of 255.
func apart(a, b image.Image, x, y int) int {
	r1, g1, b1, a1 := a.At(x, y).RGBA()
	r2, g2, b2, a2 := b.At(x, y).RGBA()
	most := 0
	for _, d := range []int{int(r1) - int(r2), int(g1) - int(g2), int(b1) - int(b2), int(a1) - int(a2)} {
		most = max(most, d, -d)
	}
	return most >> 8
}
