package label

// An EnergyCheck compares a printed energy with what the other lines give.
type EnergyCheck struct {
	Unit    Unit     `json:"unit"`
	Printed Interval `json:"printed"` // by its rounding rule, per serving or 100 g
	Implied Interval `json:"implied"` // by the factors, from the rounding intervals of the lines
	AddsUp  bool     `json:"adds_up"` // the two have a number in common
}

// factors are the energy of a gram.
type factors struct {
	carbohydrate, polyols, fat, protein, fibre, alcohol float64
}

// euFactors are those of Regulation (EU) No 1169/2011, annex XIV; erythritol
// has 0 in both units.
var euFactors = map[Unit]factors{
	Kcal: {carbohydrate: 4, polyols: 2.4, fat: 9, protein: 4, fibre: 2, alcohol: 7},
	KJ:   {carbohydrate: 17, polyols: 10, fat: 37, protein: 17, fibre: 8, alcohol: 29},
}

// usFactors are the general factors of 21 CFR 101.9(c)(1)(i)(B); that of
// alcohol, which a panel does not list, from memory.
var usFactors = factors{carbohydrate: 4, fat: 9, protein: 4, alcohol: 7}

// Energy checks the printed energy against the factors; nil for a label without
// one, or without fat or protein, where nothing can be said. Lines that are not
// printed count as nothing, but fibre, which a label of the European Union may
// leave out, as anything for which there is room.
func (l *Label) Energy() []EnergyCheck {
	for _, n := range []Nutrient{Fat, Protein} {
		if _, ok := l.Values[n]; !ok {
			return nil
		}
	}
	var out []EnergyCheck
	for _, line := range l.Lines() {
		if line.Nutrient != Energy {
			continue
		}
		c := EnergyCheck{Unit: line.Unit, Printed: line.Each, Implied: l.implied(line.Unit)}
		c.AddsUp = c.Printed.Overlaps(c.Implied)
		out = append(out, c)
	}
	return out
}

func (l *Label) implied(u Unit) Interval {
	at := func(n Nutrient, factor float64) Interval { return l.amount(n, byRounding).times(exactly(factor)) }
	f, carbohydrate := usFactors, Interval{}
	if l.Jurisdiction == EU {
		f = euFactors[u]
		carbohydrate = l.euCarbohydrate(f)
	} else {
		carbohydrate = l.usCarbohydrate(f)
	}
	return carbohydrate.plus(at(Fat, f.fat)).plus(at(Protein, f.protein)).plus(at(Alcohol, f.alcohol))
}

// usCarbohydrate is the energy of carbohydrate in the United States, where a
// maker may take 4 kcal for every gram (method B) or leave out fibre and sugar
// alcohols and give them factors of their own, from 0 kcal up (methods C and F):
// from C − F − P − N at 4 kcal to all of C.
func (l *Label) usCarbohydrate(f factors) Interval {
	all := l.amount(Carbohydrate, byRounding)
	least := all
	for _, n := range []Nutrient{Fibre, Polyols, NotMetabolised} {
		least = least.minus(l.amount(n, byRounding))
	}
	return least.atLeast(0).hull(all).times(exactly(f.carbohydrate))
}

// euCarbohydrate is the energy of carbohydrate, of which polyols and what is not
// metabolised are parts, and of fibre:
//
//	k(C − N) − (k − kP)·P + kF·F
//
// with k, kP, kF the factors of carbohydrate, polyols and fibre.
func (l *Label) euCarbohydrate(f factors) Interval {
	p := l.amount(Polyols, byRounding)
	i := l.amount(Carbohydrate, byRounding).minus(l.amount(NotMetabolised, byRounding)).atLeast(0).times(exactly(f.carbohydrate))
	i = i.minus(p.times(exactly(f.carbohydrate - f.polyols))).atLeast(f.polyols * p.Low)
	fibre := l.amount(Fibre, byRounding)
	if _, printed := l.Values[Fibre]; !printed {
		fibre.High = max(0, l.room()-l.massOf().Low)
	}
	return i.plus(fibre.times(exactly(f.fibre)))
}

// room is the largest mass of what the values are printed for; 0 where the
// label doesn't say. For volumes a density of up to 1.4, that of syrup, is
// allowed (common practice, no source).
func (l *Label) room() float64 {
	const densest = 1.4
	total := 100.0
	if l.Per == PerServing && l.Serving.Size == 0 {
		return 0
	}
	if l.Per == PerServing {
		total = l.weight().High
	}
	if l.Per == Per100ml || l.Per == PerServing && l.Serving.SizeUnit == "ml" {
		total *= densest
	}
	return total
}

// massOf adds up the lines that are no parts of others.
func (l *Label) massOf() Interval {
	sum := exactly(0)
	for _, n := range []Nutrient{Fat, Carbohydrate, Protein, Alcohol, Salt} {
		sum = sum.plus(l.amount(n, byRounding))
	}
	if l.Jurisdiction == EU { // in the United States fibre is in carbohydrate
		sum = sum.plus(l.amount(Fibre, byRounding))
	}
	return sum
}
