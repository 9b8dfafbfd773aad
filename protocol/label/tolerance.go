package label

// tolerance returns how far a true amount may lie from a printed one, rounding
// included, in a food that keeps to the law: the wider scenario.
//
// United States, 21 CFR 101.9(g): carbohydrate, fibre and protein of the food
// itself must reach 80 % of the printed value (class II), added ones 100 %
// (class I); calories, sugars, fats and sodium must not pass 120 % (third group).
// No number bounds the other side ("reasonable"), so the 20 % are taken on both.
//
// European Union, guidance of December 2012, tables for foods: per 100 g
// carbohydrate, sugars, protein, fibre ±2 g below 10 g, ±20 % to 40 g, ±8 g
// above; fat ±1.5 g, ±20 %, ±8 g; saturates ±0.8 g below 4 g, else ±20 %; salt
// ±0.375 g below 1.25 g, else ±20 % (from memory, the tables were not opened).
// Energy has none; that of polyols and alcohol is taken to be carbohydrate's.
func (l *Label) tolerance(n Nutrient, p Printed, rounding Interval) Interval {
	half := 0.2 * p.Value
	if l.Jurisdiction == EU {
		per100 := 1.0
		if l.Per == PerServing {
			per100 = l.Serving.Size / 100
		}
		half = euTolerance(n, p.Value/per100) * per100
	}
	return rounding.hull(Interval{Low: p.Value - half, High: p.Value + half}.atLeast(0))
}

// euTolerance returns the tolerance of a declared amount in 100 g or 100 ml.
func euTolerance(n Nutrient, x float64) float64 {
	share := 0.2 * x
	switch n {
	case Energy:
		return 0
	case Saturates:
		if x < 4 {
			return 0.8
		}
		return share
	case Salt:
		if x < 1.25 {
			return 0.375
		}
		return share
	}
	small := 2.0
	if n == Fat {
		small = 1.5
	}
	switch {
	case x < 10:
		return small
	case x > 40:
		return 8
	}
	return share
}
