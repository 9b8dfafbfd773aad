package cli

import (
	"encoding/json"
	"encoding/xml"
	"regexp"
	"strings"
	"testing"
)

var inWords = regexp.MustCompile(`[−-]?[0-9]+(\.[0-9]+)?`)

// familySize is how many questions an interval holds for together; it is checked with
// the sentences of quote.
var familySize = regexp.MustCompile(`for [0-9]+ questions`)

// description reads the words of a picture for people who do not see it, which hold
// every number of it.
func description(t *testing.T, svg []byte) string {
	t.Helper()
	var picture struct {
		Desc string `xml:"desc"`
	}
	if err := xml.Unmarshal(svg, &picture); err != nil {
		t.Fatal(err)
	}
	return familySize.ReplaceAllString(picture.Desc, "")
}

// Every number in the pictures of ratios and limits, and on the cards of such
// questions, is a number of that question in the JSON of analyse, rounded; estimate
// and both ends are there.
func TestPicturesSayWhatAnalyseSays(t *testing.T) {
	study := outcomesStudy(t, t.TempDir()+"/study")
	type answer struct {
		Question, Kind, Shape             string
		Limit, Estimate, Low, High, Level json.Number
		Tests                             json.Number
		A                                 json.Number `json:"tests_a"`
		B                                 json.Number `json:"tests_b"`
	}
	var a struct {
		Questions []answer
		Endpoint  struct {
			Window json.Number `json:"window_min"`
		}
	}
	if err := json.Unmarshal(printed(t, "analyse", study, "--json"), &a); err != nil {
		t.Fatal(err)
	}
	check := func(what, words string, q answer) {
		t.Helper()
		found := map[json.Number]bool{}
		for _, text := range inWords.FindAllString(words, -1) {
			known := false
			for _, want := range []json.Number{q.Estimate, q.Low, q.High} {
				if rounds(text, want, false) {
					known, found[want] = true, true
				}
			}
			for _, want := range []json.Number{q.Tests, q.A, q.B, q.Limit, a.Endpoint.Window, "1"} { // 1 is no difference
				known = known || want != "" && rounds(text, want, false)
			}
			if !known && !rounds(text, q.Level, true) {
				t.Errorf("%s of %s says %s, which analyse does not: %s", what, q.Question, text, words)
			}
		}
		if !found[q.Estimate] || !found[q.Low] || !found[q.High] {
			t.Errorf("%s of %s lacks estimate, low or high (%s, %s, %s): %s", what, q.Question, q.Estimate, q.Low, q.High, words)
		}
	}
	seen := 0
	for picture, kinds := range map[string]string{"ratios": "ratio", "limits": "below next_below"} {
		words := strings.ReplaceAll(description(t, printed(t, "figure", picture, study)), "mg/dL", "")
		var asked []answer
		for _, q := range a.Questions {
			if strings.Contains(" "+kinds+" ", " "+q.Kind+" ") {
				asked = append(asked, q)
			}
		}
		rows := strings.SplitAfter(words, "; tests: ")
		if len(rows) != len(asked)+1 {
			t.Fatalf("%s has %d rows for %d questions: %s", picture, len(rows)-1, len(asked), words)
		}
		for i, q := range asked {
			row := rows[i] // the number of tests of the row before stands at its begin
			if i > 0 {
				_, row, _ = strings.Cut(row, ".")
			}
			check(picture, row, q)
			check("card", description(t, printed(t, "card", q.Question, study)), q)
			seen++
		}
	}
	if seen < 3 {
		t.Errorf("%d questions were looked at", seen)
	}
}
