# Power of two-sided t tests at level 0.05.
# Source: power.t.test(strict = TRUE), pt and qt of base R (package stats).
#
# power_t.csv, by kind:
#   two_sample    n tests each of two foods, df = 2n - 2, ncp = delta_sd * sqrt(n/2)
#   smallest_n    smallest whole n >= 2 with power >= 0.80
#   fractional_n  n (not whole) solved for power 0.80 or 0.90; power is what n reaches
#   noncentral    df and ncp alone: P(|T| > crit), crit = qt(0.975, df)
# power_integral is the same power by another way, the integral over the spread
# estimate s of P(Z > crit*s - ncp) + P(Z < -crit*s - ncp). pt itself turns to an
# approximation above df 400000 and ncp 37.62; the integral checks it there.
#
# power_t_quoted.csv: the rows of the R help and of a few noncentral probabilities
# that are often quoted, computed again.

source("common.R")

critical <- function(df, level = 0.05) qt(1 - level / 2, df)
power_pt <- function(ncp, df, level = 0.05) {
  crit <- critical(df, level)
  if (is.infinite(df)) return(pnorm(ncp - crit) + pnorm(-crit - ncp))
  pt(crit, df, ncp, lower.tail = FALSE) + pt(-crit, df, ncp)
}
power_integral <- function(ncp, df, level = 0.05) {
  crit <- critical(df, level)
  if (is.infinite(df)) return(pnorm(ncp - crit) + pnorm(-crit - ncp))
  # u is the probability of a spread below s
  f <- function(s) (pnorm(ncp - crit * s) + pnorm(-crit * s - ncp)) * 2 * df * s * dchisq(df * s^2, df)
  ends <- sqrt(c(qchisq(1e-18, df), qchisq(1e-18, df, lower.tail = FALSE)) / df)
  cuts <- sort(unique(c(seq(ends[1], ends[2], length.out = 41), pmin(pmax(ncp / crit + c(-6, -3, 0, 3, 6) / crit, ends[1]), ends[2]))))
  if (df <= 2) cuts <- c(0, cuts[cuts > 0])
  sum(mapply(function(a, b) integrate(f, a, b, rel.tol = 1e-12, abs.tol = 1e-15, stop.on.error = FALSE)$value,
             head(cuts, -1), tail(cuts, -1)))
}

deltas <- c(0.5, 0.8, 1, 1.5, 2, 3)
two_sample <- function(n, delta) power.t.test(n = n, delta = delta, sd = 1, sig.level = 0.05, strict = TRUE)$power
row <- function(kind, n, delta, df, ncp, power)
  data.frame(kind = kind, n = n, delta_sd = delta, df = df, ncp = ncp, level = 0.05,
             crit = critical(df), power = power, power_integral = power_integral(ncp, df))
of_n <- function(kind, n, delta) row(kind, n, delta, 2 * n - 2, delta * sqrt(n / 2), two_sample(n, delta))

rows <- list()
add <- function(r) rows[[length(rows) + 1]] <<- r
for (delta in deltas) for (n in 2:20) add(of_n("two_sample", n, delta))
for (delta in deltas) {
  n <- 2
  while (two_sample(n, delta) < 0.80) n <- n + 1
  add(of_n("smallest_n", n, delta))
}
for (power in c(0.8, 0.9)) for (delta in deltas) {
  n <- tryCatch(power.t.test(power = power, delta = delta, sd = 1, strict = TRUE, tol = 1e-13)$n, error = function(e) NA)
  if (!is.na(n)) add(of_n("fractional_n", n, delta))
}
for (df in c(1, 2, 4, 8, 15, 30, 100, 1e6, Inf)) for (ncp in c(0, 0.5, 1, 2, 3, 5, 8))
  add(row("noncentral", NA, NA, df, ncp, power_pt(ncp, df)))
out <- do.call(rbind, rows)
gap <- abs(out$power - out$power_integral)
cat("largest gap between pt and the integral:", max(gap[!(out$df > 4e5)]), "; above df 400000:", max(gap[out$df > 4e5]), "\n")
stopifnot(gap[!(out$df > 4e5)] < 1e-9, gap < 1e-5)
write_table(out, "power_t.csv", c(paste("made by power_t.R with", made_by()),
  "two-sided, level 0.05; power from pt, power_integral from numerical integration"))

ptt <- function(...) power.t.test(..., tol = 1e-12)
quoted <- rbind(
  data.frame(what = "power, two-sample, n 20, delta 1, sd 1", value = ptt(n = 20, delta = 1, sd = 1)$power),
  data.frame(what = "power, two-sample, n 20, delta 1, sd 1, both tails", value = ptt(n = 20, delta = 1, sd = 1, strict = TRUE)$power),
  data.frame(what = "n, two-sample, power 0.9, delta 1", value = ptt(power = 0.9, delta = 1)$n),
  data.frame(what = "n, two-sample, power 0.9, delta 1, one-sided", value = ptt(power = 0.9, delta = 1, alternative = "one.sided")$n),
  data.frame(what = "power, paired, n 10, delta 1, sd 1", value = ptt(n = 10, delta = 1, type = "paired")$power),
  data.frame(what = "power, one-sample, n 15, delta 0.8, sd 1", value = ptt(n = 15, delta = 0.8, type = "one.sample")$power),
  data.frame(what = "n, two-sample, power 0.8, delta 0.5", value = ptt(power = 0.8, delta = 0.5)$n),
  data.frame(what = "n, paired, power 0.8, delta 0.5", value = ptt(power = 0.8, delta = 0.5, type = "paired")$n),
  data.frame(what = "P(T <= 2), df 10, ncp 1", value = pt(2, 10, 1)),
  data.frame(what = "P(T <= 0), df 10, ncp 1", value = pt(0, 10, 1)),
  data.frame(what = "P(T <= 1.5), df 4, ncp 0.5", value = pt(1.5, 4, 0.5)),
  data.frame(what = "P(T <= -2), df 8, ncp -1", value = pt(-2, 8, -1)),
  data.frame(what = "0.95 quantile, df 10, ncp 1", value = qt(0.95, 10, 1)))
quoted$what <- paste0('"', quoted$what, '"')
write_table(quoted, "power_t_quoted.csv", c(paste("made by power_t.R with", made_by()),
  "one tail unless said otherwise: the far tail is left out, as power.t.test does by default"))
