# The table "Does it hold?" of one question, a minus b, from the model y = food + block +
# error answered in other ways, and of their ratio. Days 0, 2, 4, ... in the order below.
# Rscript robustness.R writes robustness.json; R 4.2.2, lme4 and pbkrtest.
suppressMessages({library(jsonlite); library(lme4); library(pbkrtest)})
x <- data.frame(food = c("a", "c", "b", "b", "a", "c", "c", "b", "a", "a", "b", "c", "b", "c", "a", "c", "a"),
  block = c(1, 1, 1, 2, 2, 2, 3, 3, 3, 4, 4, 4, 5, 5, 5, 6, 6),
  y = c(31, 20, 44, 52, 35, 18, 26, 47, 39, 28, 46, 12, 58, 27, 41, 22, 33))
x$day <- 2 * (seq_along(x$y) - 1); x$f <- factor(x$food); x$b <- factor(x$block)
x$pb <- c(0, head(x$food, -1) == "b"); x$pc <- c(0, head(x$food, -1) == "c")
row <- function(e, se, df) c(e, e + c(-1, 1) * qt(0.975, df) * se)
ab <- function(m) { s <- coef(summary(m))["fb", ]; row(-s[[1]], s[[2]], df.residual(m)) }
m <- lm(y ~ f + b, x); base <- ab(m)
each <- lapply(seq_len(nrow(x)), function(i) ab(lm(y ~ f + b, x[-i, ])))
moves <- sapply(each, function(e) abs(e[1] - base[1])); worst <- which.max(moves)
mixed <- lmer(y ~ f + (1 | b), x); V <- vcovAdj(mixed); l <- c(0, -1, 0)
kr <- row(-fixef(mixed)[["fb"]], sqrt(drop(t(l) %*% V %*% l)), Lb_ddf(l, vcov(mixed), V))
logs <- exp(ab(lm(log(y) ~ f + b, x)))
w <- merge(x[x$food == "a", ], x[x$food == "b", ], by = "block"); d <- w$y.x - w$y.y
own <- row(mean(d), sd(d) / sqrt(length(d)), length(d) - 1)
e <- resid(m); n <- length(e); rho <- sum(e[-1] * e[-n]) / sum(e[-n]^2)
X <- model.matrix(m); turn <- function(z) { z <- as.matrix(z); rbind(sqrt(1 - rho^2) * z[1, ], z[-1, , drop = FALSE] - rho * z[-n, , drop = FALSE]) }
p <- lm(turn(x$y) ~ 0 + turn(X)); s <- coef(summary(p))[2, ]
fieller <- function(x) {
  m <- lm(y ~ f + b, x); k <- nlevels(droplevels(x$b)); V <- vcov(m)
  ma <- c(1, 0, 0, rep(1 / k, k - 1)); mb <- ma + c(0, 1, 0, rep(0, k - 1)); q <- qt(0.975, df.residual(m))
  at <- function(th) { l <- ma - th * mb; abs(sum(l * coef(m))) / sqrt(drop(t(l) %*% V %*% l)) - q }
  r <- sum(ma * coef(m)) / sum(mb * coef(m))
  c(r, uniroot(at, c(-1, r), tol = 1e-13)$root, uniroot(at, c(r, 5), tol = 1e-13)$root)
}
whole <- fieller(x); ratios <- lapply(seq_len(n), function(i) fieller(droplevels(x[-i, ])))
furthest <- which.max(sapply(ratios, function(r) abs(r[1] - whole[1])))
writeLines(toJSON(list(rows = x[, c("food", "block", "y")], base = base, worst = worst, without = each[[worst]], kr = kr, log = logs, own = own,
  trend = ab(lm(y ~ f + b + day, x)), carry = ab(lm(y ~ f + b + pb + pc, x)), rho = rho, ar = row(-s[[1]], s[[2]], df.residual(m)),
  ratio = whole, ratio_worst = furthest, ratio_without = ratios[[furthest]]), auto_unbox = TRUE, digits = 10), "robustness.json")
