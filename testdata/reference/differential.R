# Compares the analyses of random studies with R: every estimate, standard error,
# interval and number of degrees of freedom that analyse --json prints for the
# spread, the foods and the questions. All numbers are INVENTED (from a seed).
#
#   go test ./cmd/internal/cli -run DifferentialStudies -differential studies.json
#   Rscript differential.R studies.json
#
# Fixed blocks: least squares by the singular value decomposition of base R, held
# against lm where the design has full rank; at most 1e-8 apart, relatively. Random
# blocks: lme4::lmer with pbkrtest::vcovAdj and Lb_ddf; at most 1e-4 apart. It fails
# where they are farther apart, where only one of the two has an answer, and where
# fewer than half of the studies had answers.
suppressMessages({library(lme4); library(pbkrtest)})
studies <- jsonlite::fromJSON(commandArgs(TRUE)[1], simplifyVector = FALSE)

control <- lmerControl(optimizer = "bobyqa", calc.derivs = FALSE,
  optCtrl = list(rhobeg = 0.2, rhoend = 1e-10, maxfun = 1e5), check.conv.singular = .makeCC("ignore", tol = 1e-4),
  check.nobs.vs.nlev = "ignore", check.nobs.vs.nRE = "ignore")

worst <- list(); compared <- list(); failed <- 0
# differ compares one number of a study; NULL or NA: there is none.
differ <- function(study, what, got, want, limit, scale = abs(want)) {
  none <- function(x) length(x) == 0 || is.na(x)
  if (none(got) && none(want)) return(invisible())
  key <- paste(limit, sub(" .*", "", what))
  d <- if (none(got) || none(want)) Inf else abs(got - want) / max(scale, 1e-12)
  compared[[key]] <<- 1 + (if (is.null(compared[[key]])) 0 else compared[[key]])
  if (is.null(worst[[key]]) || d > worst[[key]]) worst[[key]] <<- d
  if (!(d <= limit)) {
    failed <<- failed + 1
    cat(sprintf("study %d, %s: %s here, %s in R\n", study, what, format(got, digits = 14), format(want, digits = 14)))
  }
}

# combine estimates rows of L from y = X b + error; NA where L is not in the row space.
combine <- function(X, y, L) {
  s <- svd(X); keep <- s$d > 1e-9 * s$d[1]
  V <- s$v[, keep, drop = FALSE]; U <- s$u[, keep, drop = FALSE]; d <- s$d[keep]
  df <- nrow(X) - sum(keep)
  r <- y - U %*% crossprod(U, y)
  sd <- if (df > 0) sqrt(sum(r^2) / df) else NA
  A <- sweep(L %*% V, 2, d, "/")
  lost <- sqrt(rowSums((L - L %*% V %*% t(V))^2)) > 1e-7
  est <- as.vector(A %*% crossprod(U, y)); u <- sqrt(rowSums(A^2))
  est[lost] <- NA; u[lost] <- NA
  list(estimate = est, se = u * sd, df = df, sd = sd, full = sum(keep) == ncol(X))
}

spread_limits <- function(study, what, j, sd, df, limit) {
  differ(study, paste(what, "value"), j$value, sd, limit)
  differ(study, paste(what, "df"), j$df, df, limit)
  if (!is.na(sd)) {
    differ(study, paste(what, "low"), j$low, sd * sqrt(df / qchisq(0.025, df, lower.tail = FALSE)), limit)
    differ(study, paste(what, "high"), j$high, sd * sqrt(df / qchisq(0.025, df)), limit)
  }
}

answered <- 0
for (i in seq_along(studies)) {
  s <- studies[[i]]; a <- s$analysis
  d <- do.call(rbind, lapply(s$rows, as.data.frame)); d <- d[!d$lost, ]
  foods <- unique(vapply(a$foods, `[[`, "", "food")); foods <- foods[foods %in% d$food]
  d$food <- factor(d$food, foods); d$block <- factor(d$block)
  nf <- length(foods); nb <- nlevels(d$block)
  X <- cbind(outer(as.integer(d$food), seq_len(nf), `==`), outer(as.integer(d$block), seq_len(nb), `==`)) * 1
  fit <- combine(X, d$value, cbind(diag(nf), matrix(1 / nb, nf, nb)))
  if (!is.na(fit$sd) && nf > 1 && nb > 1) { # lm says the same
    m <- lm(value ~ food + block, d)
    stopifnot(df.residual(m) == fit$df, all.equal(sigma(m), fit$sd, tolerance = 1e-9))
  }
  spread_limits(i, "sd", a$within_person_sd, fit$sd, fit$df, 1e-8)
  if (!is.na(fit$sd)) differ(i, "repeatability", a$repeatability_limit, qt(0.975, fit$df) * sqrt(2) * fit$sd, 1e-8)
  if (!is.null(a$between_days_sd)) {
    m <- if (nf > 1) lm(value ~ food, d) else lm(value ~ 1, d)
    spread_limits(i, "between_days", a$between_days_sd, sigma(m), df.residual(m), 1e-8)
  }
  for (f in a$foods) {
    k <- match(f$food, foods)
    if (is.na(k)) next
    differ(i, paste("mean", f$food), f$mean, fit$estimate[k], 1e-8, max(abs(fit$estimate[k]), fit$sd, na.rm = TRUE))
    differ(i, paste("mean_se", f$food), f$se, fit$se[k], 1e-8)
    half <- qt(0.975, max(fit$df, 1)) * fit$se[k]
    differ(i, paste("mean_low", f$food), f$low, fit$estimate[k] - half, 1e-8, half)
    differ(i, paste("mean_high", f$food), f$high, fit$estimate[k] + half, 1e-8, half)
  }
  random <- s$model == "random"
  m <- NULL
  if (random && nf > 1 && nb > 1 && nrow(d) > nf)
    m <- tryCatch(suppressWarnings(suppressMessages(lmer(value ~ 0 + food + (1 | block), d, REML = TRUE, control = control))), error = function(e) NULL)
  for (q in a$questions) {
    l <- (foods == q$a) - (foods == q$b)
    if (!all(c(q$a, q$b) %in% foods)) { differ(i, "question", q$estimate, NA, 0); next }
    fixed <- combine(X, d$value, matrix(c(l, rep(0, nb)), 1))
    compare <- function(what, j, est, se, df, nominal, limit, df_field = "df") {
      differ(i, paste0(what, " ", q$question, " estimate"), j$estimate, est, limit, max(abs(est), se, na.rm = TRUE))
      differ(i, paste0(what, "_se ", q$question), j$se, se, limit)
      differ(i, paste0(what, "_df ", q$question), j[[df_field]], df, limit)
      if (is.na(se)) return()
      half <- qt(nominal / 2, df, lower.tail = FALSE) * se
      differ(i, paste0(what, "_low ", q$question), j$low, est - half, limit, half)
      differ(i, paste0(what, "_high ", q$question), j$high, est + half, limit, half)
      if (!is.null(j$plain_low)) {
        half <- qt(0.025, df, lower.tail = FALSE) * se
        differ(i, paste0(what, "_plain_low ", q$question), j$plain_low, est - half, limit, half)
        differ(i, paste0(what, "_plain_high ", q$question), j$plain_high, est + half, limit, half)
      }
    }
    # The nominal level is printed with 12 digits and leads to the decisive interval.
    if (!random || is.null(q$df_kenward_roger)) {
      if (!is.null(q$estimate) || !is.na(fixed$estimate) && !random)
        compare("fixed", q, fixed$estimate, fixed$se, fixed$df, if (is.null(q$nominal_level)) NA else q$nominal_level, 1e-8)
    } else if (nb == 1) { # one block has no variance between blocks
      answered <- answered + 1
      compare("one_block", q, fixed$estimate, fixed$se, fixed$df, q$nominal_level, 1e-8, "df_kenward_roger")
    } else {
      answered <- answered + 1
      V <- vcov(m); VA <- vcovAdj(m)
      compare("random", q, sum(l * fixef(m)), sqrt(as.numeric(t(l) %*% as.matrix(VA) %*% l)), Lb_ddf(l, V, VA), q$nominal_level, 1e-4, "df_kenward_roger")
    }
    if (!random && !is.null(q$estimate)) answered <- answered + 1
  }
}
for (key in sort(names(worst))) cat(sprintf("%-28s %6d compared, at most %.1e apart\n", sub("(\\S+) (.*)", "\\2 (limit \\1)", key), compared[[key]], worst[[key]]))
cat(sprintf("%d studies, %d questions answered, %d numbers too far apart\n", length(studies), answered, failed))
if (failed > 0 || answered < length(studies) / 2) quit(status = 1)
