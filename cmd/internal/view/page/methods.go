package page

import (
	"fmt"
	"strconv"

	"mealtrial/cmd/internal/view"
	"mealtrial/protocol"
)

// methods are every choice, level, seed, digest and version.
func (b builder) methods() []choice {
	a := b.a
	level := protocol.Number(a.WithinPersonSD.Level)
	out := []choice{
		{"Endpoint", []Cell{text(a.Endpoint.Name.Words() + " in " + a.Endpoint.Unit + " over"), num(&a.Endpoint.Window, 0, "analyse:/endpoint/window_min"), text("min after the first bite")}},
		{"Tests", []Cell{whole(a.Tests, "analyse:/tests"), text("analysed, in"), whole(a.Blocks, "analyse:/blocks"), text("blocks;"), whole(a.Planned, "analyse:/planned_tests"), text("planned,"), whole(a.Logged, "analyse:/logged_tests"), text("of them in the log")}},
		{"Order", b.order()},
		{"Model", []Cell{exact(a.Model, "analyse:/model")}},
		{"Within-person SD", b.sd(&a.WithinPersonSD, "analyse:/within_person_sd/", "by chi-square")},
	}
	if a.RepeatabilityLimit != nil {
		out = append(out, choice{"Repeatability limit", []Cell{num(a.RepeatabilityLimit, b.d, "analyse:/repeatability_limit"), text(b.unit() + ": what two single tests of one food differ by, at most, in most cases (ISO " + "5725" + ")")}})
	}
	if a.BetweenDaysSD != nil {
		out = append(out, choice{"SD between any two days", b.sd(a.BetweenDaysSD, "analyse:/between_days_sd/", "whatever the block")})
	}
	out = append(out, choice{"Level", []Cell{percent(&level, 0, "analyse:/within_person_sd/level"), text("confidence of every interval")}},
		choice{"Smallest difference that matters", b.marginCells()}, choice{"Intervals", b.intervals()})
	out = append(out, b.family()...)
	out = append(out, choice{"Looks", b.looks()},
		choice{"Band of the mean curves", []Cell{text(b.in.Folder.Curves().Method)}},
		choice{"Other ways of answering", []Cell{text("see robustness; each at the same level as the verdict")}},
		choice{"Advice on retests", []Cell{exact(b.in.Retest.Method, "retest:/method"), text("; seed"), exact(strconv.FormatUint(b.in.Retest.Seed, 10), "retest:/seed")}},
		choice{"Lock", []Cell{text("study file SHA-256"), exact(a.StudyDigest, "analyse:/study_sha256"), text("; " + view.LockWords(a))}},
		choice{"Program", []Cell{exact(a.Program, "analyse:/program")}})
	return out
}

func (b builder) order() []Cell {
	words := "not random throughout"
	if b.a.Randomised {
		words = "drawn at random, and every test followed it"
	}
	if b.a.Seed == 0 {
		return []Cell{text(words + "; no seed")}
	}
	return []Cell{text(words + "; seed"), exact(strconv.FormatUint(b.a.Seed, 10), "analyse:/schedule_seed")}
}

func (b builder) sd(s *protocol.Spread, from, how string) []Cell {
	if s.Value == nil {
		return []Cell{text("not estimated")}
	}
	return []Cell{num(s.Value, b.d, from+"value"), text(b.unit() + ","), num(s.Low, b.d, from+"low"), text("to"), num(s.High, b.d, from+"high"), text(how + ", on"), whole(s.DF, from+"df"), text("degrees of freedom")}
}

func (b builder) marginCells() []Cell {
	for i, q := range b.a.Questions {
		if q.Margin != nil {
			return []Cell{{Text: view.Declared(float64(*q.Margin)), From: fmt.Sprintf("analyse:/questions/%d/margin", i), Value: jsonNumber(float64(*q.Margin))}, text(b.unit())}
		}
	}
	return []Cell{text("none was declared, or no question uses it")}
}

func (b builder) intervals() (cells []Cell) {
	seen := map[string]bool{}
	for i, q := range b.a.Questions {
		if seen[q.Method] {
			continue
		}
		if len(cells) > 0 {
			cells = append(cells, text("; "))
		}
		cells = append(cells, exact(q.Method, fmt.Sprintf("analyse:/questions/%d/method", i)))
		seen[q.Method] = true
	}
	if len(cells) == 0 {
		return []Cell{text("none")}
	}
	return cells
}

// family says what several questions and looks cost.
func (b builder) family() []choice {
	f := b.a.Family
	if f == nil {
		return nil
	}
	const from = "analyse:/family/"
	if f.Price == nil {
		return []choice{{"Questions together", []Cell{whole(f.Questions, from+"questions"), text("questions and"), whole(f.Looks, from+"looks"), text("looks. " + f.Method)}}}
	}
	return []choice{{"Questions together", []Cell{whole(f.Questions, from+"questions"), text("questions and"), whole(f.Looks, from+"looks"), text("looks; critical t"),
		num(f.Critical, 3, from+"critical_t"), text("from"), whole(f.Studies, from+"simulated_studies"), text("simulated studies (seed"), exact(strconv.FormatUint(f.Seed, 10), from+"seed"),
		text("); intervals"), num(f.Price, 2, from+"price"), text("times as wide as for one question at one look. " + f.Method)}}}
}

func (b builder) looks() []Cell {
	if l := b.a.Looks; l.Anytime {
		return []Cell{text("this one was not declared:"), exact(l.Why, "analyse:/looks/why")}
	}
	return []Cell{text("this one was declared")}
}
