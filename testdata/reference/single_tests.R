# What a comparison of two foods can say from n1 and n2 tests when the spread of
# single tests is known (df infinite) or estimated elsewhere on df degrees of freedom.
# Source: qt, pt, qnorm, power.t.test of base R. All numbers are invented.
#
# spread:      difference a - b, se = sd*sqrt(1/n1 + 1/n2), crit = qt(0.975, df),
#              low/high, p two-sided, smallest_gap = crit*se (|a - b| beyond it is significant)
# threshold_sd: the spread below which the gap is significant
# cv:          the same for log(a/b) with sdlog = sqrt(log(1 + cv^2))
# threshold_cv: the cv below which the ratio is significant
# two_singles: the factor by which two single tests must differ
# smallest_n:  tests of each food for power 0.80 at a true difference |a - b|, df = 2n - 2
# df null means infinite.
#
# Writes single_tests.json.

source("common.R")

pairs <- data.frame(a = c(12, 28, 28, 101.5), b = c(15, 42, 42, 88), n1 = c(1, 1, 3, 4), n2 = c(1, 1, 2, 4))
sds <- c(1, 1.08, 1.09, 3, 9)
cvs <- c(0.15, 0.2, 0.25, 0.3, 0.4)
sdlog <- function(cv) sqrt(log(1 + cv^2))
finite <- function(df) ifelse(is.finite(df), df, NA)
cross <- function(...) {
  g <- expand.grid(..., pair = seq_len(nrow(pairs)))
  cbind(pairs[g$pair, ], g[names(g) != "pair"], row.names = NULL)
}

d <- cross(df = c(2, 8, 30, Inf), sd = sds)
d$difference <- d$a - d$b
d$se <- d$sd * sqrt(1 / d$n1 + 1 / d$n2)
d$crit <- qt(0.975, d$df)
d$low <- d$difference - d$crit * d$se
d$high <- d$difference + d$crit * d$se
d$t <- d$difference / d$se
d$p <- 2 * pt(-abs(d$t), d$df)
d$smallest_gap <- d$crit * d$se
d$significant <- abs(d$difference) > d$smallest_gap
stopifnot(d$significant == (d$p < 0.05))
d$df <- finite(d$df)

ts <- cross(df = c(2, 8, Inf))
ts$sd <- abs(ts$a - ts$b) / (qt(0.975, ts$df) * sqrt(1 / ts$n1 + 1 / ts$n2))
ts$df <- finite(ts$df)

v <- cross(df = c(2, 8, 30, Inf), cv = cvs)
v$sdlog <- sdlog(v$cv)
v$log_ratio <- log(v$a / v$b)
v$se <- v$sdlog * sqrt(1 / v$n1 + 1 / v$n2)
v$crit <- qt(0.975, v$df)
v$low <- v$log_ratio - v$crit * v$se
v$high <- v$log_ratio + v$crit * v$se
v$ratio <- v$a / v$b
v$ratio_low <- exp(v$low)
v$ratio_high <- exp(v$high)
v$p <- 2 * pt(-abs(v$log_ratio / v$se), v$df)
v$factor_needed <- exp(v$crit * v$se)
v$df <- finite(v$df)

tc <- cross(df = c(2, 8, Inf))
s <- abs(log(tc$a / tc$b)) / (qt(0.975, tc$df) * sqrt(1 / tc$n1 + 1 / tc$n2))
tc$sdlog <- s
tc$cv <- sqrt(exp(s^2) - 1)
tc$df <- finite(tc$df)

two <- data.frame(cv = cvs, sdlog = sdlog(cvs), factor = exp(qnorm(0.975) * sqrt(2) * sdlog(cvs)))

smallest <- function(delta, sd) {
  power <- function(n) power.t.test(n = n, delta = delta, sd = sd, sig.level = 0.05, strict = TRUE)$power
  n <- 2
  while (power(n) < 0.80) n <- n + 1
  c(n = n, power = power(n), power_one_less = if (n > 2) power(n - 1) else NA)
}
sn <- expand.grid(sd = sds, difference = unique(abs(pairs$a - pairs$b)))
sn <- cbind(sn, t(mapply(smallest, sn$difference, sn$sd)))

write_object(list(made_by = made_by("jsonlite"),
                  about = "invented numbers; two-sided, level 0.05; df null means infinite",
                  spread = d, threshold_sd = ts, cv = v, threshold_cv = tc,
                  two_singles = two, smallest_n = sn), "single_tests.json")
