# Food tests in blocks, analysed by response = food + block + error: means, all
# differences, spread, odd tests, drift and the F test, for complete, damaged,
# unbalanced and incomplete layouts. All numbers are INVENTED (drawn from a seed).
# Source of the results: lm, anova, rstudent of base R; emmeans with weights = "equal".
#
# means        marginal mean of each food, every block with the same weight
# differences  a minus b, foods in the order of their first row, 95 %, not adjusted
# sd_low/high  95 % chi-square interval of sigma
# repeatability qt(0.975, df) * sqrt(2) * sigma
# food_test    F of food adjusted for block
# studentized  externally studentized residuals, one a row; null where the test alone
#              carries a parameter (leverage 1) or df is 1
# outlier      largest |studentized|, its row (from 1), all rows of that size (tied_rows;
#              row is the first of them), its two-sided p on df - 1, and that
#              p times rows_tested, the number of rows with a residual (Bonferroni, at most 1)
# trend        the row number 1..n as a further covariate; null where it cannot be estimated
# disconnected: what emmeans calls not estimable has null values.
#
# Writes blocked.json.

source("common.R")
suppressPackageStartupMessages(library(emmeans))
RNGkind("Mersenne-Twister", "Inversion", "Rejection")

foods <- c("oats", "rye", "lentils", "rice", "barley", "maize")

model <- function(rows) {
  d <- data.frame(food = factor(rows$food, unique(rows$food)), block = factor(rows$block),
                  order = seq_len(nrow(rows)), y = rows$y)
  # A layout with one block has no block term.
  blocked <- nlevels(d$block) > 1
  list(d = d, full = if (blocked) lm(y ~ food + block, d) else lm(y ~ food, d),
       none = if (blocked) lm(y ~ block, d) else lm(y ~ 1, d),
       drift = if (blocked) lm(y ~ food + block + order, d) else lm(y ~ food + order, d))
}
connected <- function(rows) {
  m <- model(rows)
  m$full$rank == nlevels(m$d$food) + nlevels(m$d$block) - 1
}

trend_of <- function(m) {
  fit <- m$drift
  if (is.na(coef(fit)["order"]) || df.residual(fit) < 1) return(NA)
  s <- coef(summary(fit))["order", ]
  list(estimate = s[[1]], se = s[[2]], t = s[[3]], df = df.residual(fit), p = s[[4]])
}
outlier_of <- function(m) {
  df <- df.residual(m$full)
  r <- rep(NA_real_, nrow(m$d))
  if (df > 1) {
    ok <- hatvalues(m$full) < 1 - 1e-9
    r[ok] <- rstudent(m$full)[ok]
  }
  if (all(is.na(r))) return(list(studentized = r, outlier = NA))
  # Tests that mirror each other have the same size up to rounding: the first is named.
  top <- which(abs(r) >= (1 - 1e-9) * max(abs(r), na.rm = TRUE))
  i <- top[1]; p <- 2 * pt(-abs(r[i]), df - 1)
  list(studentized = r, outlier = list(row = i, tied_rows = I(top), max_abs_t = abs(r[i]), df = df - 1, p = p,
       rows_tested = sum(!is.na(r)), p_bonferroni = min(1, p * sum(!is.na(r)))))
}

analyse <- function(name, about, rows) {
  m <- model(rows)
  stopifnot(connected(rows), df.residual(m$full) >= 1)
  df <- df.residual(m$full); s <- sigma(m$full)
  em <- emmeans(m$full, "food", weights = "equal", data = m$d)
  means <- as.data.frame(summary(em, level = 0.95))
  dif <- as.data.frame(summary(pairs(em, adjust = "none"), infer = c(TRUE, TRUE), adjust = "none", level = 0.95))
  ab <- t(combn(levels(m$d$food), 2))
  stopifnot(dif$contrast == paste(ab[, 1], "-", ab[, 2]))
  # The same differences from the coefficients.
  V <- vcov(m$full); b <- coef(m$full); L <- matrix(0, nrow(ab), length(b), dimnames = list(NULL, names(b)))
  for (k in seq_len(nrow(ab))) for (j in 1:2) {
    coefname <- paste0("food", ab[k, j])
    if (coefname %in% names(b)) L[k, coefname] <- c(1, -1)[j]
  }
  stopifnot(all.equal(as.vector(L %*% b), dif$estimate), all.equal(sqrt(diag(L %*% V %*% t(L))), dif$SE))
  f <- anova(m$none, m$full)
  o <- outlier_of(m)
  list(name = name, about = about, foods = nlevels(m$d$food), blocks = nlevels(m$d$block), rows = rows, df = df, sigma = s,
    sd_low = s * sqrt(df / qchisq(0.975, df)), sd_high = s * sqrt(df / qchisq(0.025, df)),
    repeatability = qt(0.975, df) * sqrt(2) * s,
    means = data.frame(food = as.character(means$food), mean = means$emmean, se = means$SE, low = means$lower.CL, high = means$upper.CL,
                       tests = as.vector(table(m$d$food)[as.character(means$food)])),
    differences = data.frame(a = ab[, 1], b = ab[, 2], estimate = dif$estimate, se = dif$SE, df = dif$df, t = dif$t.ratio,
                             p = dif$p.value, low = dif$lower.CL, high = dif$upper.CL),
    food_test = list(f = f$F[2], df1 = f$Df[2], df2 = f$Res.Df[2], p = f$`Pr(>F)`[2], ss_food = f$`Sum of Sq`[2], ss_residual = f$RSS[2]),
    studentized = I(o$studentized), outlier = o$outlier, trend = trend_of(m))
}

# invent draws responses for a list of blocks, each holding the foods tested in it; the
# tests of a block are in random order.
invent <- function(blocks, level, food_sd, block_sd, sd, digits, seed) {
  set.seed(seed)
  names6 <- unique(unlist(blocks))
  effect <- setNames(rnorm(length(names6), 0, food_sd), names6)
  rows <- do.call(rbind, lapply(seq_along(blocks), function(j) {
    f <- blocks[[j]][sample.int(length(blocks[[j]]))]
    data.frame(food = f, block = j, y = level + effect[f] + rnorm(1, 0, block_sd) + rnorm(length(f), 0, sd))
  }))
  rows$y <- round(rows$y, digits)
  rownames(rows) <- NULL
  rows
}
whole <- function(n, blocks) rep(list(foods[seq_len(n)]), blocks)
lose <- function(rows, block, food) rows[!(rows$block == block & rows$food %in% food), ]
tidy <- function(rows) { rownames(rows) <- NULL; rows }

complete <- invent(whole(4, 4), 38, 10, 5, 8, 1, 11)
one_left <- tidy(lose(complete, 3, foods[2:4]))
more_lost <- tidy(lose(lose(one_left, 1, foods[1]), 4, foods[3]))
unbalanced <- invent(list(rep(foods[1:4], c(4, 2, 1, 1))), 42, 12, 0, 7, 1, 12)
incomplete <- invent(lapply(list(c(1, 2, 3), c(1, 4, 5), c(2, 3, 4), c(2, 4, 5), c(1, 3, 5), c(3, 5, 2)), function(i) foods[i]), 45, 9, 4, 6, 1, 13)
mmol <- invent(whole(3, 5), 2, 0.5, 0.2, 0.35, 2, 14)
twice <- invent(lapply(1:4, function(j) c(foods[1], if (j %% 2 == 1) foods[1], foods[2:4])), 50, 11, 5, 7, 1, 15)

layouts <- list(
  analyse("complete", "4 foods in each of 4 blocks, mg/dL", complete),
  analyse("one_food_left", "the same with 3 tests lost, which leave one food in block 3", one_left),
  analyse("five_lost", "the same with 2 further tests lost", more_lost),
  analyse("no_blocks", "one block; 4, 2, 1 and 1 tests of four foods", unbalanced),
  analyse("incomplete", "5 foods in 6 blocks of 3, connected", incomplete),
  analyse("mmol", "3 foods in 5 blocks, mmol/L", mmol),
  analyse("reference_twice", "4 foods in 4 blocks, the first twice in blocks 1 and 3", twice))

set.seed(2024)
seeds <- sample.int(1e6, 2000)
made <- 0
for (seed in seeds) {
  if (made == 20) break
  set.seed(seed)
  k <- sample(2:6, 1); b <- sample(1:6, 1); loss <- sample(c(0.1, 0.2, 0.35), 1)
  # One block holds each food up to three times.
  blocks <- if (b == 1) list(rep(foods[1:k], sample(1:3, k, TRUE))) else whole(k, b)
  rows <- invent(blocks, 40, 10, 5, 8, 1, seed)
  rows <- tidy(rows[runif(nrow(rows)) >= loss, ])
  if (nrow(rows) == 0 || length(unique(rows$food)) < 2) next
  if (b > 1 && nrow(rows) == k * b) next # nothing lost: not what this is for
  rows$block <- match(rows$block, unique(rows$block))
  if (!connected(rows) || df.residual(model(rows)$full) < 1) next
  made <- made + 1
  layouts[[length(layouts) + 1]] <- analyse(sprintf("random_%02d", made), "drawn at random, tests lost at random, numbered anew", rows)
}
stopifnot(made == 20)

apart <- invent(list(foods[c(1, 2)], foods[c(1, 2)], foods[c(3, 4)], foods[c(3, 4)]), 40, 10, 5, 8, 1, 16)
apart <- apart[order(apart$block), ]
m <- model(apart)
stopifnot(!connected(apart))
em <- emmeans(m$full, "food", weights = "equal", data = m$d)
means <- as.data.frame(em)
dif <- as.data.frame(summary(pairs(em, adjust = "none"), infer = c(TRUE, TRUE), adjust = "none"))
ab <- t(combn(levels(m$d$food), 2))
stopifnot(dif$contrast == paste(ab[, 1], "-", ab[, 2]))
disconnected <- list(name = "disconnected", about = "blocks 1 and 2 hold two foods, blocks 3 and 4 two others",
  rows = tidy(apart), rank = m$full$rank, df = df.residual(m$full), sigma = sigma(m$full),
  means_estimable = any(!is.na(means$emmean)),
  differences = data.frame(a = ab[, 1], b = ab[, 2], estimable = !is.na(dif$estimate), estimate = dif$estimate, se = dif$SE, df = dif$df,
                           t = dif$t.ratio, p = dif$p.value, low = dif$lower.CL, high = dif$upper.CL))

write_object(list(made_by = made_by(c("emmeans", "jsonlite")),
                  about = "invented data; 95 % intervals; differences are a minus b, not adjusted for their number",
                  layouts = layouts, disconnected = disconnected), "blocked.json")
