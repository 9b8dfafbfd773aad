# Mean of ratios as ISO 26642 makes an index of one person: each test over the mean of
# the reference, t.test of the shares. Invented data, and the FAO worked example.
source("common.R")
cases <- lapply(list(list(x = c(31, 28, 27, 33), ref = c(50, 56, 47, 55)), list(x = c(2100, 1500), ref = c(3000, 3700, 2600)),
                     list(x = c(5, -2, 9, 4, 0), ref = c(60, 52))), function(c) {
  t <- t.test(c$x / mean(c$ref))
  list(values = c$x, reference = c$ref, mean = unname(t$estimate), low = t$conf.int[1], high = t$conf.int[2])
})
write_object(list(made_by = made_by(), cases = cases), "relative.json")
