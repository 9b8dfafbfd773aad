# Quantiles of Student's t and of chi-square, and two-sided p values of t.
# Source: qt, qchisq, pt, qnorm and pnorm of base R; df Inf is the normal.
#
# kind            argument        value
# t_quantile      probability p   qt(p, df)
# chisq_quantile  probability p   qchisq(p, df)
# t_two_sided_p   t               P(|T| >= t), from the small tail
#
# Writes tails.csv.

source("common.R")

dfs <- c(1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 30, 60, 120, 1e4)
grid <- function(kind, df, argument, f) {
  g <- expand.grid(argument = argument, df = df)
  data.frame(kind = kind, df = g$df, argument = g$argument, value = mapply(f, g$argument, g$df))
}
out <- rbind(
  grid("t_quantile", c(dfs, Inf), c(0.9, 0.95, 0.975, 0.995, 0.9995), qt),
  grid("chisq_quantile", dfs, c(0.025, 0.975), qchisq),
  grid("t_two_sided_p", c(dfs, Inf), seq(0.5, 8, 0.5), function(t, df) 2 * pt(-t, df)))

# Each quantile must lead back to its probability.
q <- out[out$kind == "t_quantile", ]
stopifnot(abs(pt(-q$value, q$df) / (1 - q$argument) - 1) < 1e-10)
q <- out[out$kind == "chisq_quantile", ]
stopifnot(abs(pchisq(q$value, q$df) - q$argument) < 1e-12)

write_table(out, "tails.csv", c(paste("made by tails.R with", made_by()),
  "argument: a probability for the quantiles, t for t_two_sided_p; df Inf is the normal"))
