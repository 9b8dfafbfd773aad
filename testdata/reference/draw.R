# Randomisation tests of two foods in studies that the program drew: every exchange
# of the two foods within the blocks that the restriction (no food twice running)
# allows, with the t statistic of their difference in lm(y ~ food + block).
# Schedules were drawn by the program and are copied here in order of time; the
# test checks that it still draws them. Responses are random numbers.
# Rscript draw.R writes draw.json; R 4.2.2.
library(jsonlite)

statistic <- function(food, block, y, a, b) {
  keep <- !is.na(y)
  food <- relevel(factor(food[keep]), ref = b); block <- factor(block[keep])
  fit <- summary(lm(y[keep] ~ food + block))$coefficients
  abs(fit[paste0("food", a), "t value"])
}

exchanges <- function(food, block, a, b) {
  out <- list(food)
  for (j in unique(block)) {
    at <- which(block == j & food %in% c(a, b))
    if (length(unique(food[at])) < 2) next
    stopifnot(length(at) == 2)
    out <- c(out, lapply(out, function(x) { x[at] <- x[rev(at)]; x }))
  }
  out
}

alike <- function(x, food, y, a, b) {
  keep <- !is.na(y) & food %in% c(a, b)
  all(x[keep] == food[keep]) || all(x[keep] != food[keep])
}

testOf <- function(s, a, b) {
  orders <- exchanges(s$food, s$block, a, b)
  if (!s$consecutive) orders <- Filter(function(x) all(head(x, -1) != tail(x, -1)), orders)
  t0 <- statistic(s$food, s$block, s$y, a, b)
  all <- sapply(orders, statistic, s$block, s$y, a, b)
  same <- sum(sapply(orders, alike, s$food, s$y, a, b))
  list(a = a, b = b, orders = length(orders), p = mean(all >= t0 - 1e-9), smallest = same / length(orders))
}

studies <- fromJSON("draw_schedules.json", simplifyDataFrame = FALSE)
set.seed(20270111)
out <- lapply(studies, function(s) {
  s$food <- unlist(s$food); s$block <- unlist(s$block)
  level <- rnorm(max(s$block), 0, 5)
  s$y <- round(30 + 6 * (s$food == "a") + level[s$block] + rnorm(length(s$food), 0, 5), 1)
  if (length(s$lost)) s$y[unlist(s$lost)] <- NA
  pairs <- list(c("a", "b"), c("a", "c"), c("b", "c"))
  s$tests <- lapply(pairs, function(p) testOf(s, p[1], p[2]))
  s
})
writeLines(toJSON(list(studies = out), auto_unbox = TRUE, digits = 15, na = "null"), "draw.json")
