package protocol

import "mealtrial/protocol/readings"

// A Published spread is that of repeats of one meal in one person, from a paper.
type Published struct {
	Name   string
	CV     float64 // 0: SD is given
	SD     float64 // mg/dL
	Of     string  // what was repeated and measured
	Source string
}

// PublishedSpreads are planning values for those who have none of their own.
var PublishedSpreads = []Published{
	{"matthan-2016", 0.20, 0, "white bread, area under the curve, 63 adults, 3 tests each", "Matthan et al. 2016, Am J Clin Nutr 104:1004"},
	{"vega-lopez-2007", 0.428, 0, "white bread, area under the curve, 14 adults, 3 tests each", "Vega-López et al. 2007, Diabetes Care 30:1412"},
	{"hirsch-2013", 0.518, 0, "white bread, area under the curve, 10 adults, 6 tests each", "Hirsch et al. 2013, Nutr Hosp 28(2)"},
	{"hengist-2025", 0, 11.3, "2-hour time-averaged area above baseline, sensor, duplicates of many meals in 30 adults; computed from the limits of agreement", "Hengist et al. 2025, Am J Clin Nutr 121:74"},
}

// PublishedSpread returns the spread of a name.
func PublishedSpread(name string) (Published, bool) {
	for _, p := range PublishedSpreads {
		if p.Name == name {
			return p, true
		}
	}
	return Published{}, false
}

// For returns the SD for an endpoint: the time-averaged area times the window for
// the incremental area.
func (p Published) For(e Endpoint) float64 {
	sd := readings.Convert(p.SD, readings.MgdL, e.GlucoseUnit)
	if e.Name.quantity() == anArea {
		sd *= e.Window
	}
	return sd
}
