# Models that a study may declare instead of one additive spread: ratios of geometric
# means (lm on log(y), confint of the difference, exponentiated) and a spread of its
# own for each food (t.test, Welch without blocks and paired within blocks).
# Rscript declared.R writes declared.json; R 4.2.2.
library(jsonlite)
set.seed(42)
rows <- function(d) lapply(seq_len(nrow(d)), function(i) list(food = as.character(d$food[i]), block = d$block[i], y = d$y[i]))
layout <- function(foods, blocks, lost = integer(0)) {
  d <- expand.grid(food = letters[1:foods], block = seq_len(blocks))
  d$y <- round(exp(3 + 0.3 * (d$food == "a") - 0.2 * (d$food == "c") + rnorm(blocks, 0, .2)[d$block] + rnorm(nrow(d), 0, .25)), 1)
  if (length(lost)) d <- d[-lost, ]
  d
}
logs <- lapply(list(layout(3, 4), layout(3, 5, c(2, 9)), transform(layout(4, 3), block = 0)), function(d) {
  f <- d; f$food <- relevel(f$food, "b")
  m <- if (all(d$block == 0)) lm(log(y) ~ food, f) else lm(log(y) ~ food + factor(block), f)
  ci <- confint(m)["fooda", ]
  list(rows = rows(d), estimate = exp(unname(coef(m)["fooda"])), low = exp(ci[[1]]), high = exp(ci[[2]]), df = m$df.residual)
})
own <- lapply(list(layout(2, 6), layout(3, 5, c(3)), transform(layout(3, 4), block = 0)), function(d) {
  if (all(d$block == 0)) t <- t.test(d$y[d$food == "a"], d$y[d$food == "b"])
  else {
    w <- reshape(d[d$food %in% c("a", "b"), ], idvar = "block", timevar = "food", direction = "wide")
    t <- t.test(w$y.a, w$y.b, paired = TRUE)
  }
  e <- if (length(t$estimate) == 2) -diff(unname(t$estimate)) else unname(t$estimate)
  list(rows = rows(d), foods = nlevels(d$food), estimate = e, low = t$conf.int[1], high = t$conf.int[2], df = unname(t$parameter), se = t$stderr)
})
writeLines(toJSON(list(logs = logs, own = own), auto_unbox = TRUE, digits = 15), "declared.json")
