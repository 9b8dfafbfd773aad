# Two foods against a reference in complete blocks of three: Dunnett's two-sided
# critical value (two comparisons, correlation 1/2), by integration and beside it
# from mvtnorm; half width and chance of "different" at a true difference, by number
# of repeats. Run: Rscript power_family.R > power_family.json
suppressMessages({library(mvtnorm); library(jsonlite)})
sd <- 9; difference <- 20; r <- sqrt(0.5)
holds <- function(crit, df) {
  within <- function(s) sapply(s, function(s) integrate(function(z)
    dnorm(z) * (pnorm((crit*s - r*z)/r) - pnorm((-crit*s - r*z)/r))^2, -9, 9, rel.tol = 1e-11)$value)
  density <- function(s) 2*df*s*dchisq(df*s^2, df)
  integrate(function(s) within(s)*density(s), 0, Inf, rel.tol = 1e-9)$value
}
rows <- lapply(2:6, function(n) {
  df <- 3*n - 3 - n + 1
  crit <- uniroot(function(x) holds(x, df) - 0.95, c(2, 12), tol = 1e-10)$root
  set.seed(1)
  beside <- qmvt(0.95, tail = "both.tails", df = df, corr = matrix(c(1, .5, .5, 1), 2))$quantile
  se <- sd*sqrt(2/n); ncp <- difference/se
  list(repeats = n, df = df, critical = crit, mvtnorm = beside, half_width = crit*se,
       different = pt(-crit, df, ncp) + pt(crit, df, ncp, lower.tail = FALSE))
})
cat(toJSON(list(made_by = paste(R.version.string, "mvtnorm", packageVersion("mvtnorm")), sd = sd, difference = difference, rows = rows), auto_unbox = TRUE, digits = 12, pretty = TRUE), "\n")
