package label

// A family is an allergen with the words by which a label may name it.
type family struct {
	name  string   // for people
	names []string // words for the whole of it
	kinds []string // words for parts of it, and for foods that are made of it
	// collective: a label may print one of names and mean any one of the kinds,
	// so that who avoids walnut has to stop at "nuts".
	collective bool
}

// families are the fourteen of Regulation (EU) No 1169/2011, annex II, and wheat
// and tree nuts as the United States name them (21 U.S.C. 321(qq), number from
// memory, with sesame since 2023). What is a kind of what follows these lists where they name it; the
// rest is common knowledge of ingredients, no source. In English, one word in
// singular, without accents; the lists cannot be complete.
var families = []family{
	{"gluten", []string{"gluten", "cereal containing gluten"}, []string{"wheat", "spelt", "khorasan", "durum", "semolina", "einkorn", "emmer", "farro",
		"farina", "bulgur", "couscous", "freekeh", "seitan", "triticale", "graham", "rye", "barley", "malt", "oat", "oatmeal", "breadcrumb", "rusk"}, true},
	{"wheat", []string{"wheat"}, []string{"spelt", "khorasan", "durum", "semolina", "einkorn", "emmer", "farro", "farina", "bulgur", "couscous",
		"freekeh", "seitan", "triticale", "graham", "breadcrumb", "rusk"}, true},
	{"barley", []string{"barley"}, []string{"malt"}, false},
	{"rye", []string{"rye"}, []string{"triticale"}, false},
	{"oats", []string{"oat"}, []string{"oatmeal"}, false},
	{"crustaceans", []string{"crustacean", "shellfish", "crustacean shellfish"}, []string{"crab", "lobster", "shrimp", "prawn", "crayfish", "crawfish",
		"langoustine", "krill", "scampi"}, true},
	{"egg", []string{"egg"}, []string{"albumen", "albumin", "ovalbumin", "egg white", "egg yolk", "yolk", "lysozyme", "meringue", "mayonnaise"}, false},
	{"fish", []string{"fish"}, []string{"anchovy", "bass", "catfish", "cod", "flounder", "haddock", "hake", "halibut", "herring", "mackerel", "pollock",
		"salmon", "sardine", "sole", "sprat", "tilapia", "trout", "tuna", "surimi", "isinglass", "roe", "caviar"}, true},
	{"peanut", []string{"peanut", "groundnut", "ground nut", "earth nut", "monkey nut"}, []string{"arachis"}, false},
	{"soya", []string{"soy", "soya", "soybean", "soyabean", "soy bean", "soya bean", "soja"}, []string{"edamame", "miso", "natto", "okara", "shoyu", "tamari",
		"tempeh", "tofu", "yuba", "textured vegetable protein"}, false},
	{milk, []string{"milk", "dairy", "dairy product", "cow milk"}, []string{"butter", "buttermilk", "butterfat", "milkfat", "casein", "caseinate", "cheese", "cream",
		"creme", "curd", "custard", "ghee", "kefir", "lactalbumin", "lactoglobulin", "lactose", "mascarpone", "mozzarella", "paneer", "quark", "ricotta",
		"whey", "yoghurt", "yogurt"}, false},
	{"nuts", []string{"nut", "tree nut", "treenut"}, []string{"almond", "brazil nut", "cashew", "filbert", "frangipane", "gianduja", "hazelnut", "hickory",
		"macadamia", "marzipan", "noisette", "nougat", "pecan", "pine nut", "pistachio", "praline", "queensland nut", "walnut"}, true},
	{"celery", []string{"celery"}, []string{"celeriac"}, false},
	{"mustard", []string{"mustard"}, nil, false},
	{"sesame", []string{"sesame", "sesame seed"}, []string{"benne", "gingelly", "gomasio", "halva", "halvah", "tahini", "tahina"}, false},
	{"sulphites", []string{"sulphite", "sulfite", "sulphur dioxide", "sulfur dioxide"}, []string{"bisulphite", "bisulfite", "metabisulphite", "metabisulfite",
		"e220", "e221", "e222", "e223", "e224", "e226", "e227", "e228", "e 220", "e 221", "e 222", "e 223", "e 224", "e 226", "e 227", "e 228"}, false},
	{"lupin", []string{"lupin", "lupine", "lupini"}, nil, false},
	{"molluscs", []string{"mollusc", "mollusk", "shellfish", "molluscan shellfish"}, []string{"abalone", "calamari", "clam", "cockle", "cuttlefish", "mussel",
		"octopus", "oyster", "scallop", "snail", "squid", "whelk"}, true},
}

const milk = "milk"

// plantNames are names of foods from plants that end in a word for milk or
// what is made of it.
var plantNames = map[string][]string{
	"milk":   {"almond", "cashew", "coconut", "hemp", "oat", "rice", "soy", "soya"},
	"butter": {"almond", "cashew", "cocoa", "nut", "peanut", "shea"},
	"cream":  {"coconut"},
}
