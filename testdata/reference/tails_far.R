# Both tails of t, F and chi-square from 1e-12 to 1 - 1e-12, and the quantiles that
# lead to them. Source: pt, qt, pf, qf, pchisq and qchisq of base R.
#
# Writes tails_far.json: rows of [df1, df2, p, quantile, upper quantile, lower tail
# and upper tail at x, x]. x is a round number near the quantile, so that tails are
# checked without going through the quantile.
#
# Not from R: the noncentral t, which R computes to about 1e-12 absolutely, and t
# with very many degrees of freedom, for which pt takes a normal approximation
# (above 4e5). See noncentral_t.py.

source("common.R")

p <- c(1e-12, 1e-10, 1e-8, 1e-6, 1e-4, 0.001, 0.01, 0.025, 0.1, 0.3, 0.5, 0.7, 0.95, 0.999, 1 - 1e-6, 1 - 1e-9, 1 - 1e-12)
df <- c(1, 1.5, 2, 3, 4.2, 7, 11, 20, 37.5, 100, 500, 2000, 1e4, 1e5)

rows <- function(q, tail, df1, df2) {
  g <- expand.grid(p = p, df1 = df1, df2 = df2)
  out <- lapply(seq_len(nrow(g)), function(i) {
    r <- g[i, ]
    x <- signif(q(r$p, r$df1, r$df2, TRUE), 3)
    c(r$df1, r$df2, r$p, q(r$p, r$df1, r$df2, TRUE), q(r$p, r$df1, r$df2, FALSE),
      tail(x, r$df1, r$df2, TRUE), tail(x, r$df1, r$df2, FALSE), x)
  })
  do.call(rbind, out)
}
t <- rows(function(p, df1, df2, lower) qt(p, df1, lower.tail = lower), function(x, df1, df2, lower) pt(x, df1, lower.tail = lower), df, 0)
chisq <- rows(function(p, df1, df2, lower) qchisq(p, df1, lower.tail = lower), function(x, df1, df2, lower) pchisq(x, df1, lower.tail = lower), df, 0)
f <- rows(function(p, df1, df2, lower) qf(p, df1, df2, lower.tail = lower), function(x, df1, df2, lower) pf(x, df1, df2, lower.tail = lower),
          c(1, 2, 3, 5, 11, 60), c(1, 2, 4.5, 10, 40, 1000))

# R's own quantiles lead back to their probabilities; rows in which they do not, to
# 1e-10 of the smaller tail, are left out and counted.
back <- function(m, tail) {
  lost <- vapply(seq_len(nrow(m)), function(i) {
    r <- m[i, ]
    small <- min(r[3], 1 - r[3])
    lower <- r[3] < 0.5
    max(abs(tail(r[4], r[1], r[2], lower) / small - 1), abs(tail(r[5], r[1], r[2], !lower) / small - 1)) > 1e-10
  }, TRUE)
  message(sum(lost), " of ", nrow(m), " quantiles of R do not lead back")
  m[!lost & m[, 4] * m[, 5] != 0 | m[, 3] == 0.5, ]
}
t <- back(t, function(x, a, b, lower) pt(x, a, lower.tail = lower))
chisq <- back(chisq, function(x, a, b, lower) pchisq(x, a, lower.tail = lower))
f <- back(f, function(x, a, b, lower) pf(x, a, b, lower.tail = lower))

# jsonlite writes very small numbers as 0, so the rows are written here.
block <- function(name, m) paste0('"', name, '": [\n', paste0("[", apply(m, 1, function(r) paste(formatC(r, digits = 15, format = "g", width = 1), collapse = ", ")), "]", collapse = ",\n"), "\n]")
writeLines(c("{", paste0('"made_by": "tails_far.R with ', made_by(), '",'),
  '"columns": ["df1", "df2", "p", "quantile", "upper_quantile", "lower", "upper", "x"],',
  paste(c(block("t", t), block("chisq", chisq), block("f", f)), collapse = ",\n"), "}"), "tails_far.json")
