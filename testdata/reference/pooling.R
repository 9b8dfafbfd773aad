# What borrowing a spread does to the coverage and width of one 95 % interval.
# The rule: own variance and that of an earlier study are pooled where Bartlett's
# test has p >= 0.25, and else the wider of the two intervals is taken.
# ratio: the true SD now over the true SD then; 1 is what the pooling assumes.
# Rscript pooling.R writes pooling.csv; R 4.2.2, seed 1, 400 000 studies a row, so
# that the standard error of a coverage near 0.95 is 0.0004.
set.seed(1)
n <- 400000
rows <- NULL
for (df in list(c(8, 11), c(4, 20), c(15, 15), c(11, 40))) for (ratio in c(0.67, 1, 1.25, 1.5, 2)) {
  own <- ratio^2 * rchisq(n, df[1]) / df[1]; earlier <- rchisq(n, df[2]) / df[2]; z <- rnorm(n) * ratio
  total <- sum(df); pooled <- (df[1] * own + df[2] * earlier) / total
  m <- total * log(pooled) - df[1] * log(own) - df[2] * log(earlier)
  p <- pchisq(m / (1 + (1 / df[1] + 1 / df[2] - 1 / total) / 3), 1, lower.tail = FALSE)
  wide <- qt(.975, total) * sqrt(pooled); alone <- qt(.975, df[1]) * sqrt(own)
  half <- ifelse(p >= .25, wide, pmax(wide, alone))
  rows <- rbind(rows, data.frame(own_df = df[1], earlier_df = df[2], ratio, coverage = round(mean(abs(z) <= half), 4),
    coverage_own_alone = round(mean(abs(z) <= alone), 4), coverage_always_pooled = round(mean(abs(z) <= wide), 4),
    width_over_own = round(mean(half) / mean(alone), 3)))
}
write.csv(rows, "pooling.csv", row.names = FALSE, quote = FALSE)
