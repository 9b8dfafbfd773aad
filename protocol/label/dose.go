package label

// A Line is one printed value with the amounts that may stand behind it.
type Line struct {
	Nutrient Nutrient `json:"nutrient"`
	Printed  string   `json:"printed"`
	Unit     Unit     `json:"unit"`
	OnGrid   bool     `json:"printed_by_the_rule"` // false: the rule doesn't print such a number
	Rule     string   `json:"rule"`
	Each     Interval `json:"per_serving_or_100"`         // what the values are printed for
	Portion  Interval `json:"portion"`                    // in one portion
	Wide     Interval `json:"portion_tolerance_scenario"` // with tolerances of compliance

	wide Interval // Wide, per serving or 100 g
}

// Lines returns the printed values in the order of a label.
func (l *Label) Lines() []Line {
	var out []Line
	for _, known := range lines {
		if p, ok := l.Values[known.nutrient]; ok {
			out = append(out, l.line(known.nutrient, p))
		}
		if known.nutrient == Energy && l.KJ != nil {
			out = append(out, l.line(Energy, *l.KJ))
		}
	}
	return out
}

func (l *Label) line(n Nutrient, p Printed) Line {
	rule := RuleFor(l.Jurisdiction, n, p.Unit)
	out := Line{Nutrient: n, Printed: p.Text, Unit: p.Unit, Rule: rule.Source}
	out.Each, out.OnGrid = rule.Interval(p)
	out.wide = l.tolerance(n, p, out.Each)
	out.Portion, out.Wide = out.Each.times(l.factor()), out.wide.times(l.factor())
	return out
}

// A scenario is how wide the amounts behind printed values are taken.
type scenario bool

const (
	byRounding  scenario = false
	byTolerance scenario = true
)

// amount returns what may stand behind a line, per serving or 100 g; a line
// that is not printed counts as zero.
func (l *Label) amount(n Nutrient, s scenario) Interval {
	p, ok := l.Values[n]
	if !ok {
		return exactly(0)
	}
	line := l.line(n, p)
	if s == byTolerance {
		return line.wide
	}
	return line.Each
}

// A Dose is the available carbohydrate of one portion, in grams.
type Dose struct {
	// AsPrinted is the dose with every value as it is printed; nil where a line
	// says only "less than", or the share of polyols is not known.
	AsPrinted *float64 `json:"as_printed"`
	Rounding  Interval `json:"rounding"`           // by the rounding rules
	Tolerance Interval `json:"tolerance_scenario"` // with tolerances of compliance
}

// Dose returns the available carbohydrate of one portion: what is digested and
// absorbed, and can raise glucose. With C, F, P and N the amounts of
// carbohydrate, fibre, polyols and what is not metabolised,
//
//	United States   C − F − P − N   as C counts everything that is not protein, fat, water or ash
//	European Union  C − P − N       as C is what is metabolised, with polyols and without fibre
//
// where P is left out if polyols count, and is anything from nothing to all of
// them if that is not known. The amounts are rounded each for itself, so the
// interval is that of their differences. It is cut at zero and at the sugars
// (free of N), which are a part of it. N is taken to be printed within C.
// Definitions: 21 CFR 101.9(c)(6); Regulation (EU) No 1169/2011, annex I, 7.
func (l *Label) Dose() Dose {
	return Dose{AsPrinted: l.doseAsPrinted(), Rounding: l.available(byRounding).times(l.factor()),
		Tolerance: l.available(byTolerance).times(l.factor())}
}

func (l *Label) available(s scenario) Interval {
	polyols := l.amount(Polyols, s)
	switch l.Polyols {
	case PolyolsAll:
		polyols = exactly(0)
	case PolyolsUnknown:
		polyols = exactly(0).hull(polyols)
	}
	i := l.amount(Carbohydrate, s).minus(polyols).minus(l.amount(NotMetabolised, s))
	if l.Jurisdiction == US {
		i = i.minus(l.amount(Fibre, s))
	}
	i = i.atLeast(0)
	if least := l.amount(Sugars, s).minus(l.amount(NotMetabolised, s)); least.Low > i.Low && !i.below(least) {
		i.Low, i.LowOpen = least.Low, least.LowOpen
	}
	return i
}

func (l *Label) doseAsPrinted() *float64 {
	x := 0.0
	for _, term := range []struct {
		n     Nutrient
		sign  float64
		takes bool
	}{
		{Carbohydrate, 1, true},
		{Fibre, -1, l.Jurisdiction == US},
		{Polyols, -1, l.Polyols != PolyolsAll},
		{NotMetabolised, -1, true},
	} {
		p, printed := l.Values[term.n]
		if !printed || !term.takes {
			continue
		}
		if p.Below || term.n == Polyols && l.Polyols == PolyolsUnknown && p.Value > 0 {
			return nil
		}
		x += term.sign * p.Value
	}
	x = tidy(max(0, x) * l.asPrintedFactor())
	return &x
}
