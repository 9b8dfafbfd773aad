# Randomisation tests, by looking at every order in R: least squares by R's own
# QR, limits by bisection; package coin where it has the test.
#   cd testdata/reference && Rscript randomisation.R
# Sources of the data: Darwin's maize as differences in eighths of an inch (Fisher
# 1935, The Design of Experiments, section 21); shoes (Box, Hunter and Hunter 1978,
# Statistics for Experimenters, section 4.2; data set shoes of MASS); sleep (Student
# 1908; data set sleep of R). The layouts are invented.
suppressMessages(library(coin))
source("common.R")

# arrangements lists the distinct orders of some values.
arrangements <- function(v) {
  if (length(v) <= 1) return(list(v))
  out <- list()
  for (x in unique(v)) for (rest in arrangements(v[-match(x, v)])) out[[length(out) + 1]] <- c(x, rest)
  out
}

# orders lists, as rows, all orders in which the values at the places `free`
# change within their stratum and the others stay.
orders <- function(drawn, stratum, free) {
  found <- list(drawn)
  for (s in unique(stratum[free])) {
    at <- which(free & stratum == s)
    found <- unlist(lapply(found, function(o) lapply(arrangements(drawn[at]), function(v) { o[at] <- v; o })), recursive = FALSE)
  }
  do.call(rbind, found)
}

# columns is the design matrix of food + block, one indicator column each.
columns <- function(food, block) cbind(outer(food, unique(food), "==") + 0, outer(block, unique(block), "==") + 0)
rss <- function(y, food, block) { use <- !is.na(y); sum(.lm.fit(columns(food[use], block[use]), y[use])$residuals^2) }

# t2 is t squared of a - b on its degrees of freedom, by what the fit gets worse
# when a and b are one food; `one` is that residual sum of squares.
t2 <- function(y, food, block, one) {
  two <- rss(y, food, block)
  if (one - two < 1e-10 * one) return(0) # a - b is not estimable, or 0
  (one - two) / two
}

# pair_test holds |t| of a - b in the additive model against all allowed orders.
pair_test <- function(name, y, food, block, a, b, allowed = function(o) TRUE, stratum = block, level = 0.95) {
  all <- orders(food, stratum, food %in% c(a, b))
  all <- all[apply(all, 1, allowed), , drop = FALSE]
  merged <- ifelse(food == b, a, food)
  p_at <- function(delta) {
    z <- y - delta * (food == a)
    one <- rss(z, merged, block)
    mean(apply(all, 1, function(o) t2(z, o, block, one)) >= t2(z, food, block, one) * (1 - 1e-9))
  }
  estimate <- coef(lm(y ~ relevel(factor(food), ref = b) + factor(block)))[paste0("relevel(factor(food), ref = b)", a)]
  edge <- function(far) { # bisection on "not rejected"
    if (p_at(far) > 1 - level + 1e-9) return(NA)
    near <- estimate
    for (i in 1:34) { mid <- (near + far) / 2; if (p_at(mid) > 1 - level + 1e-9) near <- mid else far <- mid }
    unname(near)
  }
  width <- 20 * diff(range(y, na.rm = TRUE))
  list(name = name, y = y, food = food, block = block, stratum = stratum, a = a, b = b, level = level,
       orders = nrow(all), p = p_at(0), estimate = unname(estimate), low = edge(estimate - width), high = edge(estimate + width))
}

no_repeat <- function(o) all(o[-1] != o[-length(o)])
pairs_of <- function(x, y) list(y = as.vector(rbind(x, y)), food = rep(c("A", "B"), length(x)), block = rep(seq_along(x), each = 2))

# F ratio of the treatments against all orders within blocks.
global_test <- function(name, y, food, block, allowed = function(o) TRUE) {
  all <- orders(food, block, rep(TRUE, length(food)))
  all <- all[apply(all, 1, allowed), , drop = FALSE]
  f_of <- function(o) anova(lm(y ~ factor(block) + factor(o)))[["F value"]][2]
  fs <- apply(all, 1, f_of)
  list(name = name, y = y, food = food, block = block, orders = nrow(all), p = mean(fs >= f_of(food) * (1 - 1e-9)))
}

# Signs: exact p of the sum of differences, by all 2^n.
signs <- function(name, d) {
  n <- length(d)
  grid <- as.matrix(expand.grid(rep(list(c(-1, 1)), n)))
  sums <- abs(grid %*% d)
  list(name = name, d = d, extreme = sum(sums >= abs(sum(d)) - 1e-9), orders = 2^n)
}
pairs <- list(
  signs("maize", c(49, -67, 8, 16, 6, 23, 28, 41, 14, 29, 56, 24, 75, 60, -48)),
  signs("sleep", round(sleep$extra[1:10] - sleep$extra[11:20], 1)),
  signs("shoes", round(MASS::shoes$B - MASS::shoes$A, 1)))

three <- list(y = c(6.1, 7.4, 5.2, 8.8, 6.6, 7.1, 5.9, 7.9, 6.3, 7.2, 9.1, 8.0),
  food = c("A", "C", "B", "C", "B", "A", "B", "C", "A", "B", "C", "A"), block = rep(1:4, each = 3))
five <- list(y = round(c(4.1, 5.6, 3.9, 6.8, 5.0, 4.4, 5.9, 6.2, 3.1, 5.5, 7.0, 4.6, 5.3, 4.9, 3.8, 6.0, 5.2, 7.7, 4.0, 4.8,
                         5.1, 3.6, 6.6, 5.8, 4.3, 6.9, 5.4, 4.7, 3.3, 6.1), 1),
  food = c("A","B","C","D","E", "C","A","D","E","B", "D","E","A","B","C", "B","D","C","A","E", "E","C","B","D","A", "D","A","E","C","B"),
  block = rep(1:6, each = 5))
four <- list(y = c(5.0, 8.1, 6.2, 9.4, 7.7, 6.0, 8.8, 5.1, 9.9, 6.6, 5.7, 8.3, 7.0, 9.0, 6.9, 5.2),
  food = c("A","C","B","D", "C","A","D","B", "D","B","A","C", "A","D","C","B"), block = rep(1:4, each = 4))
lost <- replace(four$y, c(3, 10), NA)
incomplete <- list(y = c(5.2, 6.9, 8.1, 5.5, 9.0, 6.1, 7.4, 6.6, 5.0, 8.8, 7.7, 5.9, 6.4, 7.2, 5.1, 6.8, 9.3, 7.0),
  food = c("A","B","C", "A","D","B", "C","A","B", "D","B","C", "B","C","A", "C","A","D"), block = rep(1:6, each = 3))
twice <- list(y = c(5.1, 7.3, 6.0, 5.6, 8.0, 6.2, 5.5, 7.1, 7.9, 6.3, 5.8, 6.7), food = c("A","B","A","C", "B","A","C","A", "C","A","B","A"), block = rep(1:3, each = 4))

s <- pairs_of(sleep$extra[1:10], sleep$extra[11:20])
shoes <- pairs_of(MASS::shoes$B, MASS::shoes$A)
questions <- list(
  pair_test("sleep", s$y, s$food, s$block, "A", "B"),
  pair_test("shoes, B before A, level 0.9", shoes$y, shoes$food, shoes$block, "A", "B", level = 0.9),
  with(four, pair_test("four foods, complete, level 0.8", y, food, block, "A", "B", level = 0.8)),
  with(four, pair_test("four foods, no limits at level 0.95", y, food, block, "A", "B")),
  with(four, pair_test("four foods, two lost, level 0.7", lost, food, block, "A", "B", level = 0.7)),
  with(four, pair_test("four foods, no food twice in a row, level 0.6", y, food, block, "A", "C", allowed = no_repeat, level = 0.6)),
  with(incomplete, pair_test("incomplete blocks, level 0.8", y, food, block, "A", "B", level = 0.8)),
  with(incomplete, pair_test("incomplete blocks, one lost, no food twice in a row, level 0.5", replace(y, 5, NA), food, block, "A", "C", allowed = no_repeat, level = 0.5)),
  with(twice, pair_test("reference twice a block, level 0.9", y, food, block, "A", "B", level = 0.9)),
  with(twice, pair_test("reference twice a block, one lost, level 0.85", replace(y, 6, NA), food, block, "A", "C", level = 0.85)),
  with(four, pair_test("four foods, strata smaller than blocks, level 0.5", y, food, block, "A", "B", stratum = c(1,1,1,1, 2,2,3,3, 4,4,4,4, 5,5,5,5), level = 0.5)))

globals <- list(
  with(three, global_test("three foods", y, food, block)),
  with(three, global_test("three foods, one lost", replace(y, 4, NA), food, block)),
  with(three, global_test("three foods, no food twice in a row", y, food, block, no_repeat)),
  with(twice, global_test("reference twice a block", y, food, block)))

set.seed(20270113)
coined <- function(name, d, draws) {
  test <- oneway_test(y ~ factor(food) | factor(block), data = as.data.frame(d), teststat = "quadratic", distribution = approximate(nresample = draws))
  list(name = name, y = d$y, food = d$food, block = d$block, p = as.numeric(pvalue(test)), draws = draws)
}
# Two treatments of unequal numbers in a block; the numbers are whole for the exact distribution.
strata <- list(y = c(12, 15, 9, 11, 18, 7, 14, 16, 10, 13, 21, 8, 17), food = c("A","B","A","B","B", "B","A","B","A", "A","B","A","B"), block = c(1,1,1,1,1, 2,2,2,2, 3,3,3,3))
balanced <- list(y = c(12, 15, 9, 11, 7, 14, 16, 10, 13, 21, 8, 17), food = c("A","B","A","B", "B","A","B","A", "A","B","A","B"), block = rep(1:3, each = 4))
exact_coin <- function(name, d) {
  test <- oneway_test(y ~ factor(food) | factor(block), data = as.data.frame(d), distribution = exact())
  list(name = name, y = d$y, food = d$food, block = d$block, p = as.numeric(pvalue(test)))
}
write_object(list(made_by = made_by(c("coin", "MASS", "jsonlite")),
  about = "pairs: orders at least as extreme, of 2^n. questions: |t| of a - b, its allowed orders, limits by bisection, null for none. globals: F ratio. coin: p of random orders; coin_exact: p by its shift algorithm.",
  pairs = pairs, questions = questions, globals = globals,
  coin = list(coined("five foods in six complete blocks", five, 1e6), coined("three foods in four complete blocks", three, 1e6)),
  coin_exact = list(exact_coin("two of each treatment a block", balanced), exact_coin("unequal blocks", strata))), "randomisation.json")
