# Food tests in blocks, analysed by response = food (fixed) + block (random) + error:
# REML, and means and differences with Kenward-Roger standard errors and degrees of
# freedom. The layouts drawn here are INVENTED (from a seed); the others are data sets
# of R packages. Source of the results: lme4::lmer(REML = TRUE), pbkrtest::vcovAdj and
# Lb_ddf, checked against emmeans(lmer.df = "kenward-roger").
#
# lmer     what lmer and pbkrtest give with tight control of lmer's optimiser
# polished the same lme4 and pbkrtest functions at the root of the REML score: the score
#          with dense matrices of base R, solved by uniroot. lmer compares values of the
#          criterion only, so its own theta has half the digits. Absent where lmer is at
#          the boundary and the score there is not negative.
# criterion_at  the criterion at given theta (sigma_block / sigma_error)
suppressMessages({library(lme4); library(pbkrtest); library(emmeans)})
source("common.R")

control <- lmerControl(optimizer = "bobyqa", calc.derivs = FALSE,
  optCtrl = list(rhobeg = 0.2, rhoend = 1e-10, maxfun = 1e5),
  check.conv.singular = .makeCC("ignore", tol = 1e-4), check.nlev.gtr.1 = "stop")

# Score of the REML criterion in lambda = theta^2, up to a positive factor:
# df * y'PGPy / y'Py - tr(PG), with V = I + lambda G.
score <- function(lambda, y, X, G) {
  V <- diag(length(y)) + lambda * G
  Vi <- solve(V)
  P <- Vi - Vi %*% X %*% solve(t(X) %*% Vi %*% X, t(X) %*% Vi)
  Py <- P %*% y
  as.numeric((length(y) - ncol(X)) * t(Py) %*% G %*% Py / sum(y * Py) - sum(P * G))
}

# combinations of the coefficients: means of the foods, then all pairs a - b.
combinations <- function(k) {
  if (k == 1) return(matrix(1))
  M <- cbind(1, rbind(0, diag(k - 1)))
  ab <- combn(k, 2)
  rbind(M, M[ab[1, ], , drop = FALSE] - M[ab[2, ], , drop = FALSE])
}

results <- function(m, k, singular = isSingular(m, tol = 1e-12)) {
  V <- vcov(m); VA <- vcovAdj(m); L <- combinations(k)
  vc <- as.data.frame(VarCorr(m))$vcov
  list(theta = getME(m, "theta")[[1]], block_variance = vc[1], error_variance = vc[2],
       criterion = as.numeric(REMLcrit(m)), singular = singular,
       estimate = I(as.vector(L %*% fixef(m))), se = I(sqrt(rowSums((L %*% as.matrix(VA)) * L))),
       se_unadjusted = I(sqrt(rowSums((L %*% as.matrix(V)) * L))),
       df = I(apply(L, 1, function(l) Lb_ddf(l, V, VA))))
}

analyse <- function(name, about, rows) {
  rows$food <- factor(rows$food, levels = unique(rows$food)); rows$block <- factor(rows$block)
  k <- nlevels(rows$food)
  form <- if (k == 1) y ~ 1 + (1 | block) else y ~ food + (1 | block)
  # bobyqa warns when rounding stops it, which is as far as it can get.
  m <- suppressWarnings(suppressMessages(lmer(form, rows, REML = TRUE, control = control)))
  lmer_results <- results(m, k)
  if (k > 1) { # emmeans says the same
    em <- emmeans(m, "food", lmer.df = "kenward-roger", data = rows)
    e <- rbind(as.data.frame(em)[, c("emmean", "SE", "df")],
               setNames(as.data.frame(pairs(em, adjust = "none"))[, c("estimate", "SE", "df")], c("emmean", "SE", "df")))
    stopifnot(all.equal(as.vector(lmer_results$estimate), e$emmean), all.equal(as.vector(lmer_results$se), e$SE),
              all.equal(as.vector(lmer_results$df), e$df))
  }
  parsed <- lFormula(form, rows, REML = TRUE, control = control)
  dev <- do.call(mkLmerDevfun, parsed)
  G <- as.matrix(crossprod(parsed$reTrms$Zt))
  polished <- NULL
  lambda <- lmer_results$theta^2
  if (score(0, rows$y, parsed$X, G) > 0 || lambda > 1e-6) {
    f <- function(logl) score(exp(logl), rows$y - mean(rows$y), parsed$X, G)
    root <- uniroot(f, log(max(lambda, 1e-6)) + c(-0.5, 0.5), tol = 1e-14, maxiter = 1000, extendInt = "yes")$root
    theta <- exp(root / 2)
    dev(theta)
    fitted <- mkMerMod(environment(dev), list(par = theta, fval = dev(theta), conv = 0, feval = 0), parsed$reTrms, parsed$fr,
                       mc = m@call)
    polished <- results(fitted, k)
    stopifnot(polished$criterion <= lmer_results$criterion + 1e-9)
  }
  at <- c(0, 0.5, 1, 3)
  cat(sprintf("%-22s theta %.10g polished %.10g\n", name, lmer_results$theta, if (is.null(polished)) NA else polished$theta))
  list(name = name, about = about, foods = k, blocks = nlevels(rows$block), food = I(as.integer(rows$food)),
       block = I(as.integer(rows$block)), y = I(rows$y),
       criterion_at = data.frame(theta = at, criterion = sapply(at, dev)), lmer = lmer_results, polished = polished)
}

# invent draws responses for a list of blocks, each holding the foods tested in it.
invent <- function(blocks, block_sd, sd, digits, seed, level = 40) {
  set.seed(seed)
  effect <- rnorm(max(unlist(blocks)), 0, level / 4)
  rows <- do.call(rbind, lapply(seq_along(blocks), function(j)
    data.frame(food = blocks[[j]], block = j, y = level + effect[blocks[[j]]] + rnorm(1, 0, block_sd) + rnorm(length(blocks[[j]]), 0, sd))))
  rows$y <- round(rows$y, digits)
  rows
}
whole <- function(n, blocks) rep(list(seq_len(n)), blocks)
columns <- function(...) asplit(cbind(...), 2)
lose <- function(rows, which) rows[-which, ]
# the first seed from `seed` on with the wanted estimate of theta
until <- function(wanted, blocks, block_sd, sd, digits, seed) {
  repeat {
    rows <- invent(blocks, block_sd, sd, digits, seed)
    theta <- getME(suppressWarnings(suppressMessages(lmer(y ~ factor(food) + (1 | block), rows, control = control))), "theta")
    if (wanted(theta)) return(rows)
    seed <- seed + 1
  }
}
zero <- function(theta) theta == 0
small <- function(theta) theta > 1e-3 && theta < 0.1

seven <- lapply(0:6, function(i) (c(0, 1, 3) + i) %% 7 + 1)               # 7 foods in 7 blocks of 3
six <- list(c(1,2,5), c(1,2,6), c(1,3,4), c(1,3,6), c(1,4,5), c(2,3,4), c(2,3,5), c(2,4,6), c(3,5,6), c(4,5,6))
twelve <- lapply(0:7, function(i) (c(0, 1, 3, 7, 8) + 3 * i) %% 12 + 1)   # 12 foods in 8 blocks of 5
chain <- lapply(1:7, function(i) c(i, i + 1, i))                          # blocks linked by one food each
apart <- list(c(1,2,1), c(1,2,2), c(1,2), c(3,4,4), c(3,4,3), c(3,4))
uneven <- list(c(1,1,1,1,2), c(2,2,3), c(3,1), c(1,2,3,4,4), c(4), c(3))

npk_rows <- with(npk, data.frame(food = paste0(N, P, K), block = as.integer(block), y = yield))
stool <- as.data.frame(nlme::ergoStool)
cases <- list(
  analyse("complete_4x4", "4 foods in each of 4 blocks", invent(whole(4, 4), 5, 8, 1, 1)),
  analyse("complete_2x6", "2 foods, 6 blocks", invent(whole(2, 6), 6, 6, 1, 2)),
  analyse("complete_6x3", "6 foods, 3 blocks", invent(whole(6, 3), 6, 8, 1, 3)),
  analyse("complete_12x2", "12 foods, 2 blocks", invent(whole(12, 2), 9, 6, 1, 4)),
  analyse("complete_3x8", "3 foods, 8 blocks", invent(whole(3, 8), 4, 8, 1, 5)),
  analyse("complete_12x5", "12 foods, 5 blocks: 60 tests", invent(whole(12, 5), 5, 8, 1, 6)),
  analyse("reference_twice", "4 foods, the first twice in every other block", invent(lapply(1:4, function(j) c(1, if (j %% 2) 1, 2:4)), 5, 7, 1, 7)),
  analyse("lost_three", "4 foods, 4 blocks, 3 tests lost", lose(invent(whole(4, 4), 6, 8, 1, 8), c(1, 6, 7))),
  analyse("lost_six", "4 foods, 4 blocks, 6 tests lost", lose(invent(whole(4, 4), 9, 7, 1, 9), c(1, 2, 3, 8, 10, 15))),
  analyse("incomplete_7x7x3", "7 foods in 7 blocks of 3, balanced", invent(seven, 6, 8, 1, 10)),
  analyse("incomplete_7x7x3_b", "the same, other numbers", invent(seven, 4, 8, 1, 30)),
  analyse("incomplete_4x6x2", "4 foods in 6 blocks of 2, balanced", invent(columns(combn(4, 2)), 6, 6, 1, 11)),
  analyse("incomplete_6x10x3", "6 foods in 10 blocks of 3, balanced", invent(six, 6, 8, 1, 12)),
  analyse("incomplete_5x10x2", "5 foods in 10 blocks of 2, balanced", invent(columns(combn(5, 2)), 6, 8, 1, 13)),
  analyse("incomplete_12x8x5", "12 foods in 8 blocks of 5, unbalanced", invent(twelve, 6, 8, 1, 14)),
  analyse("chain", "8 foods in 7 blocks, neighbours linked by one food", invent(chain, 6, 4, 1, 15)),
  analyse("uneven", "4 foods in blocks of 5, 3, 2, 5, 1 and 1", invent(uneven, 10, 6, 1, 16)),
  analyse("single_test", "4 foods in 4 blocks, the last food tested once", lose(invent(whole(4, 4), 8, 6, 1, 17), c(4, 8, 12))),
  analyse("apart", "two sets of foods that no block links", invent(apart, 6, 5, 1, 18)),
  analyse("zero_complete", "complete, block variance estimated as zero", until(zero, whole(4, 4), 2, 8, 1, 100)),
  analyse("zero_7x7x3", "incomplete, zero", until(zero, seven, 2, 8, 1, 200)),
  analyse("zero_two_blocks", "3 foods, 2 blocks, 2 tests lost, zero", lose(until(zero, rep(list(rep(1:3, 2)), 2), 2, 8, 1, 300), c(2, 9))),
  analyse("zero_4x6x2", "incomplete, blocks of 2, zero", until(zero, columns(combn(4, 2)), 0, 6, 1, 400)),
  analyse("zero_apart", "two sets of foods that no block links, zero", until(zero, apart, 0, 5, 1, 450)),
  analyse("near_zero_complete", "complete, close to zero", until(small, whole(4, 4), 2, 8, 1, 500)),
  analyse("near_zero_7x7x3", "incomplete, close to zero", until(small, seven, 2, 8, 1, 600)),
  analyse("near_zero_chain", "chain, close to zero", until(small, chain, 1, 8, 1, 700)),
  analyse("large_blocks", "blocks 20 times the error SD, tests lost", lose(invent(whole(5, 4), 60, 3, 2, 19), c(3, 11, 17))),
  analyse("tiny_error", "blocks 1000 times the error SD, incomplete", invent(seven, 20, 0.02, 4, 20)),
  analyse("area", "numbers of the size of an area in mg/dL min, incomplete", invent(six, 500, 700, 0, 21, 3000)),
  analyse("mmol", "mmol/L, tests lost", lose(invent(whole(3, 6), 0.3, 0.4, 2, 22, 2), c(2, 9, 10, 16))),
  analyse("npk", "8 fertilisers in 6 blocks of 4, confounded with blocks: R's npk; Venables and Ripley 2002, section 6.7", npk_rows),
  analyse("ergoStool", "effort with 4 stools, 9 people: nlme; Pinheiro and Bates 2000", data.frame(food = as.character(stool$Type), block = as.character(stool$Subject), y = stool$effort)),
  analyse("sleep", "2 drugs, 10 people: R's sleep; Student 1908", data.frame(food = as.integer(sleep$group), block = as.integer(sleep$ID), y = sleep$extra)),
  analyse("Dyestuff", "one treatment, 6 batches: lme4; Davies and Goldsmith 1972", with(Dyestuff, data.frame(food = 1, block = as.integer(Batch), y = Yield))),
  analyse("Dyestuff2", "one treatment, 6 batches, zero: lme4; Box and Tiao 1973", with(Dyestuff2, data.frame(food = 1, block = as.integer(Batch), y = Yield))))

set.seed(2026)
seeds <- sample.int(1e6, 1000)
made <- 0
for (seed in seeds) {
  if (made == 16) break
  set.seed(seed)
  k <- sample(2:12, 1); b <- sample(2:8, 1); loss <- sample(c(0.1, 0.3, 0.5), 1); sd_block <- sample(c(1, 4, 8, 16), 1)
  rows <- invent(whole(k, b), sd_block, 8, 1, seed)
  rows <- rows[runif(nrow(rows)) >= loss, ]
  if (nrow(rows) < 6 || length(unique(rows$food)) < 2 || length(unique(rows$block)) < 2 || nrow(rows) > 60) next
  if (df.residual(lm(y ~ factor(food) + factor(block), rows)) < 1) next
  made <- made + 1
  cases[[length(cases) + 1]] <- analyse(sprintf("random_%02d", made), "drawn at random, tests lost at random", rows)
}
stopifnot(made == 16)

# pbkrtest takes a generalised inverse when the smallest eigenvalue of the information
# on the variances is below 1e-10, in the units of the responses; so its degrees of
# freedom can change with the unit. The same responses in two units:
rows <- invent(whole(4, 4), 60, 0.5, 2, 23)
rows <- lose(rows, c(1, 6, 7))
units <- lapply(c(1, 1000), function(unit) {
  m <- lmer(y ~ factor(food) + (1 | block), transform(rows, y = unit * y), control = control)
  r <- results(m, 4)
  list(unit = unit, theta = r$theta, se = r$se, df = r$df)
})

write_object <- function(object, file) # one line a vector keeps the file small
  writeLines(jsonlite::toJSON(object, digits = NA, auto_unbox = TRUE, na = "null", null = "null", dataframe = "rows"), file)
write_object(list(made_by = made_by(c("lme4", "pbkrtest", "emmeans", "nlme", "Matrix", "jsonlite")),
  about = "food and block count from 1; estimate, se and df: means of foods 1, 2, ..., then a - b for (1,2), (1,3), ..., (2,3), ...",
  cases = cases, units = list(food = I(rows$food), block = I(rows$block), y = I(rows$y), results = units)), "mixed.json")
