package protocol

// ShortCaution goes with every output that could be read as advice on health.
const ShortCaution = "One person's own experiment, not medical advice; questions about health, medication or diet belong to a licensed clinician. See mealtrial cautions."

// Cautions is the full text of the cautions. The thresholds are those of Danne
// et al. 2017, Diabetes Care 40:1631, table 1 (glucose); those for ketones are
// the usual advice on ketoacidosis, from memory.
const Cautions = `What this program is for
  It plans and analyses one person's experiment with foods. A result holds for
  that person, that sensor and those conditions. It is not a medical device,
  it diagnoses nothing, and it does not replace a licensed clinician.

Do not begin without a licensed clinician if you
  - take insulin or any other medicine that lowers glucose,
  - are pregnant or breast-feeding, or a child,
  - have or had an eating disorder, or notice that counting and testing food
    begins to rule your days,
  - have had ketoacidosis, or kidney, liver or adrenal disease,
  - have been told not to fast.
  Never change a medicine, its dose or its time for a test.

Stop a test, treat what is wrong first, and seek help when
  - glucose falls below 70 mg/dL (3.9 mmol/L): take fast sugar as you were
    taught; below 54 mg/dL (3.0 mmol/L), or if you are confused, faint or
    shaking, have somebody with you and call for help;
  - glucose stays above 250 mg/dL (13.9 mmol/L);
  - blood ketones reach 1.6 mmol/L, or there is vomiting, belly pain, deep fast
    breathing or unusual drowsiness: this may be ketoacidosis, also with normal
    glucose; at 3.0 mmol/L or more seek emergency care at once;
  - you notice hives, swelling of lips or tongue, wheezing or faintness: this
    may be an allergic reaction; call the emergency number.

Food and allergy
  Read every ingredient list anew: recipes change. Never test a food that you
  are or may be allergic to, and do not test a food for tolerance on your own.

Reading the numbers
  A sensor lags behind blood and may be wrong by 10 to 15 percent or more; check
  a surprising value with a blood meter. A small rise in glucose does not make a
  food healthy, nor a large one harmful. Do not eat less, skip meals or drop
  whole food groups because of a result here.
`
