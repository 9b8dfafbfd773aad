# Ratio of two foods' means in blocked layouts: Fieller's set, found by solving
# |t(theta)| = t_crit with R's root finder on the means and covariances of
# emmeans, and not by Fieller's formula. Invented data.
#   cd testdata/reference && Rscript ratio.R
suppressMessages(library(emmeans))
library(jsonlite)

layouts <- fromJSON("blocked.json", simplifyVector = TRUE, simplifyDataFrame = TRUE)$layouts
solve_set <- function(rows, a, b) {
  rows$food <- factor(rows$food, levels = unique(rows$food)); rows$block <- factor(rows$block)
  fit <- if (nlevels(rows$block) > 1) lm(y ~ food + block, rows) else lm(y ~ food, rows)
  e <- emmeans(fit, "food"); m <- as.data.frame(e)$emmean; v <- vcov(e)
  names(m) <- levels(rows$food); dimnames(v) <- list(levels(rows$food), levels(rows$food))
  crit <- qt(0.975, fit$df.residual)
  f <- function(th) (m[[a]] - th * m[[b]])^2 - crit^2 * (v[a, a] - 2 * th * v[a, b] + th^2 * v[b, b])
  r <- m[[a]] / m[[b]]
  if (crit^2 * v[b, b] / m[[b]]^2 >= 0.9) return(NULL) # only clearly bounded sets
  low <- uniroot(f, c(r - 1e4, r), tol = 1e-13, maxiter = 10000)$root
  high <- uniroot(f, c(r, r + 1e4), tol = 1e-13, maxiter = 10000)$root
  list(a = a, b = b, ratio = r, low = low, high = high)
}
out <- list()
for (i in seq_len(nrow(layouts))) {
  rows <- layouts$rows[[i]]; foods <- unique(rows$food)
  sets <- list()
  for (a in foods) for (b in foods) if (a != b) {
    s <- solve_set(rows, a, b); if (!is.null(s)) sets[[length(sets) + 1]] <- s
  }
  if (length(sets)) out[[length(out) + 1]] <- list(name = layouts$name[i], rows = rows, sets = sets)
}
writeLines(toJSON(list(made_by = paste(R.version.string, "emmeans", packageVersion("emmeans"), "jsonlite", packageVersion("jsonlite")),
  about = "invented data; 95 % sets of the ratio a/b of marginal means, bounded ones", layouts = out), digits = 15, auto_unbox = TRUE, pretty = TRUE), "ratio.json")
