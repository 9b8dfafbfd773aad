# Bartlett's test of equal variances: bartlett.test of R's stats, on samples that
# have the SDs and degrees of freedom named. Rscript bartlett.R writes bartlett.json.
library(jsonlite)
cases <- list(list(sd = c(6.4, 9.1), df = c(11, 8)), list(sd = c(5, 5), df = c(3, 20)),
  list(sd = c(2.5, 7.5), df = c(6, 14)), list(sd = c(4, 5, 9), df = c(5, 12, 7)), list(sd = c(10, 1), df = c(1, 30)))
sample_of <- function(sd, df) { x <- qnorm(ppoints(df + 1)); x <- x - mean(x); x * sd / sqrt(sum(x^2) / df) }
out <- lapply(cases, function(c) {
  t <- bartlett.test(mapply(sample_of, c$sd, c$df, SIMPLIFY = FALSE))
  c(c, statistic = unname(t$statistic), p = t$p.value)
})
# The data set InsectSprays of R's datasets, bartlett.test's own example.
t <- bartlett.test(count ~ spray, InsectSprays)
s <- tapply(InsectSprays$count, InsectSprays$spray, sd); n <- tapply(InsectSprays$count, InsectSprays$spray, length)
out <- c(out, list(list(sd = unname(s), df = unname(n) - 1, statistic = unname(t$statistic), p = t$p.value)))
writeLines(toJSON(list(cases = out), auto_unbox = TRUE, digits = 16), "bartlett.json")
