package protocol

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"

	"mealtrial/protocol/label"
	"mealtrial/protocol/problem"
	"mealtrial/protocol/readings"
	"mealtrial/protocol/yamldoc"
)

// What is taken where the study file does not say.
const (
	defaultWindow      = 120 // minutes; ISO 26642:2010 measures two hours
	defaultBaseline    = 15  // minutes; common practice, no source
	defaultMaxGap      = 20  // minutes; common practice, no source
	defaultMinCoverage = 0.8 // data sufficiency of 70–80 %, Danne et al. 2017, Diabetes Care 40:1631
	defaultLevel       = 0.95
	defaultRepeats     = 3
	defaultWashout     = 1
	defaultTime        = Clock(7*60 + 30)
	defaultFast        = 10 * 60 // minutes; laboratories ask for 10 to 14 hours
)

// Digest returns the SHA-256 of a file's bytes in hexadecimal (FIPS 180-4).
func Digest(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// ParseStudy reads a study file. The error is a problem.List of all that is
// wrong in it.
func ParseStudy(data []byte) (*Study, error) {
	r := &yamldoc.Reader{File: StudyFile}
	text, ok := r.Clean(data)
	if !ok {
		return nil, mendEmpty(r.Err())
	}
	parts := yamldoc.Split(text)
	if len(parts) == 0 {
		return nil, mendEmpty(problem.List{{File: StudyFile, Found: "nothing but comments"}})
	}
	if len(parts) > 1 {
		return nil, problem.List{{File: StudyFile, Line: parts[1].Line, Found: "a second document",
			Expected: "one study a file", Mend: "take out the line \"---\" or what follows it"}}
	}
	root, ok := r.Parse(parts[0])
	if !ok {
		return nil, r.Err()
	}
	// How the sensor's files are laid out is known when they are there, after the
	// draw; so it is no part of what is locked.
	s := &Study{Digest: Digest(yamldoc.Without(data, "readings")), whole: Digest(data)}
	s.read(root)
	if err := r.Err(); err != nil {
		return nil, err
	}
	return s, nil
}

// mendEmpty says how to come to a study file where there is none to speak of.
func mendEmpty(err error) error {
	if list, ok := err.(problem.List); ok && len(list) == 1 && list[0].Mend == "" {
		list[0].Expected = "a study"
		list[0].Mend = "delete it and run mealtrial init to begin anew"
	}
	return err
}

func (s *Study) read(root yamldoc.Node) {
	if !readFormat(root) {
		return
	}
	m := root.Map("title", "zone", "endpoint", "quality", "margin", "level", "foods", "questions", "looks", "blocks", "ratio_scale", "spread_by_food", "sensor", "spread", "plan", "readings", "safety", "outcomes", "format")
	s.Title = m["title"].Text()
	s.Zone, s.ZoneNamed = readZone(m["zone"])
	s.Endpoint = readEndpoint(m["endpoint"])
	s.Quality = readQuality(m["quality"], s.Endpoint.GlucoseUnit)
	s.Level = readLevel(m["level"])
	if x, ok := m["margin"].Number("a number above zero"); ok {
		s.Margin = x
		if x <= 0 || x > 1e6 {
			m["margin"].Reject(m["margin"].Found(), "a number above zero, up to a million",
				fmt.Sprintf("write the smallest difference that matters to you, in %s", s.Endpoint.Unit()))
		}
	}
	if len(m["foods"].List()) == 0 {
		root.Reject("no foods", "the list \"foods\" with at least one food", "write for example foods: [{id: wheat, role: reference}, {id: lupin}]")
	}
	s.readFoods(m["foods"])
	s.readQuestions(m["questions"])
	s.Looks = readLooks(m["looks"])
	s.RandomBlocks = m["blocks"].OneOf("fixed", "random") == "random"
	s.LogRatios = m["ratio_scale"].OneOf("linear", "log") == "log"
	s.OwnSpread = m["spread_by_food"].YesNo()
	s.checkModel(m)
	s.Sensor = m["sensor"].Text()
	s.Earlier = readEarlier(m["spread"])
	if len(s.Earlier) > 0 && (s.RandomBlocks || s.OwnSpread) {
		m["spread"].Reject("earlier spreads together with blocks: random or spread_by_food: yes", "one spread for all foods and fixed blocks, as the others take their spread from this study alone", "take one of the two out")
	}
	if m["plan"].Present() {
		s.Plan = s.readPlan(m["plan"])
	}
	s.Mapping = readMapping(m["readings"])
	s.Safety = readSafety(m["safety"])
	s.readOutcomes(m["outcomes"])
}

// checkModel refuses models that contradict each other.
func (s *Study) checkModel(m map[string]yamldoc.Node) {
	ratios := slices.ContainsFunc(s.Questions, func(q Question) bool { return q.Kind == Ratio })
	switch {
	case s.OwnSpread && s.RandomBlocks:
		m["spread_by_food"].Reject("a spread by food together with blocks: random", "one of the two", "take one of them out")
	case s.OwnSpread && ratios && !s.LogRatios:
		m["spread_by_food"].Reject("a spread by food together with a ratio of means", "ratio_scale: log, or differences only", "write ratio_scale: log, which is for a spread in proportion to the response")
	case s.LogRatios && !ratios:
		m["ratio_scale"].Reject("a scale for ratios without a question about one", "a question such as \"lupin vs wheat as ratio\"", "add one to questions, or take ratio_scale out")
	}
}

func readZone(n yamldoc.Node) (zone *time.Location, named bool) {
	name := n.Text()
	if name == "" {
		return time.UTC, false
	}
	zone, err := time.LoadLocation(name)
	if err != nil || name == "Local" {
		n.Reject(n.Found(), "a zone of the IANA time zone database, such as Europe/Vienna or America/Chicago", "")
		return time.UTC, false
	}
	return zone, true
}

// unitWords are the ways to write a unit of glucose.
var unitWords = []string{string(readings.MgdL), string(readings.MmolL)}

func readUnit(n yamldoc.Node) readings.Unit {
	text := n.Text()
	if text == "" {
		return ""
	}
	for _, u := range unitWords {
		if strings.EqualFold(text, u) {
			return readings.Unit(u)
		}
	}
	n.Reject(n.Found(), "mg/dL or mmol/L", "")
	return ""
}

func readEndpoint(n yamldoc.Node) Endpoint {
	e := Endpoint{Name: PeakRise, GlucoseUnit: readings.MgdL, Window: defaultWindow, Baseline: defaultBaseline}
	if !n.Present() {
		return e
	}
	m := n.Map("name", "unit", "window", "baseline", "level", "secondary", "smoothing")
	e.Name = EndpointName(m["name"].OneOf(endpointNames...))
	if u := readUnit(m["unit"]); u != "" {
		e.GlucoseUnit = u
	}
	e.Window = readUpTo(m["window"], defaultWindow, 12*60)
	e.Baseline = readUpTo(m["baseline"], defaultBaseline, 2*60)
	e.readMore(n, m)
	return e
}

func readQuality(n yamldoc.Node, unit readings.Unit) Quality {
	q := Quality{MaxGap: defaultMaxGap, MinCoverage: defaultMinCoverage}
	m := n.Map(append([]string{"max_gap", "min_coverage", "at_limit", "sensors"}, qualityKeys...)...)
	q.Flags = readThresholds(m, unit)
	q.LimitIsBound = m["at_limit"].OneOf("left out", "bound") == "bound"
	for _, item := range m["sensors"].List() {
		q.Sensors = append(q.Sensors, item.Text())
	}
	q.MaxGap = readMinutes(m["max_gap"], defaultMaxGap)
	const expected = "a share above 0 and at most 1"
	if x, ok := m["min_coverage"].Number(expected); ok {
		q.MinCoverage = x
		if x <= 0 || x > 1 {
			m["min_coverage"].Reject(m["min_coverage"].Found(), expected, "write for example 0.8 for 80 %")
		}
	}
	return q
}

func readLevel(n yamldoc.Node) float64 {
	const expected = "a confidence from 0.8 to 0.999"
	x, ok := n.Number(expected)
	if !ok {
		return defaultLevel
	}
	if x < 0.8 || x > 0.999 {
		n.Reject(n.Found(), expected, "write 0.95 for 95 %, the usual one")
		return defaultLevel
	}
	return x
}

var validID = regexp.MustCompile(`^[\p{L}\p{N}][\p{L}\p{N}\p{M}_.+-]*$`)

func (s *Study) readFoods(n yamldoc.Node) {
	lines := map[string]int{}
	for _, item := range n.List() {
		f := readFood(item)
		if !validID.MatchString(f.ID) || f.ID == "vs" {
			item.Reject(fmt.Sprintf("the id %q", f.ID), "an id of letters, digits and - _ . +, without spaces", "give the food a short id, and its full name under name:")
			continue
		}
		if earlier, twice := lines[f.ID]; twice {
			item.Reject(fmt.Sprintf("the id %q a second time", f.ID), fmt.Sprintf("each id once (line %d has it already)", earlier), "give one of the two another id")
			continue
		}
		if f.Role == RoleReference && s.Reference() >= 0 {
			item.Reject("a second reference", "at most one food with role: reference", "make one of them a test food")
		}
		if f.Name == "" {
			f.Name = f.ID
		}
		if f.Label != nil {
			f.Label.Name = f.Name
		}
		lines[f.ID] = item.Line()
		s.Foods = append(s.Foods, f)
	}
}

func readFood(item yamldoc.Node) Food {
	if !item.IsMap() {
		return Food{ID: item.Text(), Role: RoleTest}
	}
	m := item.Map("id", "name", "role", "portion", "preparation", "repeats", "from", "until", "opened", "keeps", "label")
	f := Food{ID: m["id"].Text(), Name: m["name"].Text(), Portion: m["portion"].Text(), Preparation: m["preparation"].Text(),
		Role:    Role(m["role"].OneOf(string(RoleTest), string(RoleReference), string(RoleBlank))),
		Repeats: m["repeats"].Whole(1, mostRepeats, 0), Label: label.Read(m["label"])}
	f.From, _ = readDate(m["from"])
	f.Until, _ = readDate(m["until"])
	if opened, ok := readDate(m["opened"]); ok {
		f.From = max(f.From, opened)
		if keeps := Date(m["keeps"].Whole(1, longestPlan, 0)); keeps > 0 && (f.Until == 0 || opened+keeps < f.Until) {
			f.Until = opened + keeps
		}
	} else if m["keeps"].Present() {
		m["keeps"].Reject(m["keeps"].Found(), "opened: with the date as well", "write for example opened: 2027-01-11, keeps: 5")
	}
	if f.Until != 0 && f.Until < f.From {
		item.Reject(fmt.Sprintf("a food to be had from %s until %s", f.From, f.Until), "from before until", "")
	}
	return f
}
