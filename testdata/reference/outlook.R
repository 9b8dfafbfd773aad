# The chance that n further tests of one food, whose tests so far are y, show its mean
# or its next serving below a limit by a one-sided t bound at alpha: the posterior of
# mean and spread under the prior 1/sigma, the further tests drawn from it, and the
# bound of all tests together. Rscript outlook.R writes outlook.json; R 4.2.2.
library(jsonlite)
set.seed(7)
y <- c(20, 29, 24, 31); n0 <- length(y); m <- 400000
chance <- function(n, limit, alpha, following) {
  sigma <- sqrt(var(y) * (n0 - 1) / rchisq(m, n0 - 1)); mu <- rnorm(m, mean(y), sigma / sqrt(n0))
  x <- matrix(rnorm(m * n, mu, sigma), m)
  all <- cbind(matrix(y, m, n0, byrow = TRUE), x)
  centre <- rowMeans(all); s <- sqrt(rowSums((all - centre)^2) / (n0 + n - 1))
  half <- qt(1 - alpha, n0 + n - 1) * s * sqrt(1 / (n0 + n) + following)
  mean(centre + half < limit | centre - half > limit)
}
alpha <- 0.05 / 2 / 2 # two questions about a limit, two looks
out <- lapply(1:12, function(n) list(n = n, mean = chance(n, 33, alpha, 0), following = chance(n, 48, alpha, 1)))
writeLines(toJSON(list(y = y, rows = out), auto_unbox = TRUE, digits = 5), "outlook.json")
