# What further tests and looks that were not declared give, beside outlook.R.
# chances: that n further blocks of a and b settle a minus b (a margin of 6), their ratio,
# or a limit of 32: at the last of two declared looks (after 4 and 8 blocks, one nominal
# level for both, simulated), or beyond it by the anytime-valid interval with g = 1
# (Lindon et al. 2022); posterior of mean and spread under the prior 1/sigma.
# set: ratios theta for which the anytime-valid test of a - theta*b = 0 within blocks
# does not reject at alpha/2, by root finding; logs: that of the log ratios.
# Rscript outlook_more.R writes outlook_more.json; R 4.2.2.
library(jsonlite)
set.seed(11)
a <- c(20, 29, 24, 31, 22, 27, 33, 26); b <- c(26, 30, 33, 34, 25, 26, 38, 30); d <- a - b
k <- function(n, alpha, g = 1) { # the multiplier of the standard error of a mean of n
  r <- g / (g + n)
  loge <- function(t) 0.5 * log(r) + n / 2 * (log(1 + t^2 / (n - 1)) - log(1 + r * t^2 / (n - 1)))
  uniroot(function(t) loge(t) - log(1 / alpha), c(0, 1e4), tol = 1e-12)$root
}
tstat <- function(x) sqrt(ncol(x)) * rowMeans(x) / sqrt(rowSums((x - rowMeans(x))^2) / (ncol(x) - 1))
z <- matrix(rnorm(8 * 1e6), 1e6)
p <- pmin(2 * pt(-abs(tstat(z[, 1:4])), 3), 2 * pt(-abs(tstat(z)), 7))
nominal <- unname(quantile(p, 0.05))
future <- function(y, n, half, settled, m = 2e5) {
  n0 <- length(y)
  sigma <- sqrt(var(y) * (n0 - 1) / rchisq(m, n0 - 1)); mu <- rnorm(m, mean(y), sigma / sqrt(n0))
  all <- cbind(matrix(y, m, n0, byrow = TRUE), matrix(rnorm(m * n, mu, sigma), m))
  centre <- rowMeans(all); se <- sqrt(rowSums((all - centre)^2) / (n0 + n - 1) / (n0 + n))
  mean(settled(centre - half * se, centre + half * se))
}
zero <- function(low, high) low > 0 | high < 0
margin <- function(low, high) zero(low, high) | low > -6 & high < 6
limit <- function(low, high) high < 32 | low > 32
rows <- lapply(c(1, 2, 4, 8, 16), function(n) { q <- qt(1 - nominal / 2, 3 + n); list(n = n,
  difference = future(d[1:4], n, q, margin), ratio = future(d[1:4], n, q, zero),
  beyond = future(d, n, k(8 + n, 0.05), margin), limit = future(a, n, k(8 + n, 0.05), limit)) })
first <- c(31, 36, 28, 40, 33, 37); second <- c(52, 47, 60, 55, 49, 58); kk <- k(6, 0.025)
excess <- function(theta) { x <- first - theta * second; abs(mean(x)) / (sd(x) / sqrt(6)) - kk }
mid <- mean(first) / mean(second)
set <- c(uniroot(excess, c(0, mid), tol = 1e-13)$root, uniroot(excess, c(mid, 5), tol = 1e-13)$root)
l <- log(first / second); logs <- exp(mean(l) + c(-1, 1) * kk * sd(l) / sqrt(6))
writeLines(toJSON(list(a = a, b = b, nominal = nominal, rows = rows, first = first, second = second, set = set, logs = logs), auto_unbox = TRUE, digits = 9), "outlook_more.json")
