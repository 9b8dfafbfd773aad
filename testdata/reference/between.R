# Spread of tests of one food whatever the block: residual SD of lm(y ~ food) on
# the layouts of blocked.json, with its 95 % chi-square limits. Invented data.
#   cd testdata/reference && Rscript between.R
library(jsonlite)
layouts <- fromJSON("blocked.json", simplifyVector = TRUE, simplifyDataFrame = TRUE)$layouts
out <- list()
for (i in seq_len(nrow(layouts))) {
  rows <- layouts$rows[[i]]
  fit <- lm(y ~ factor(food), rows); df <- fit$df.residual
  if (df < 1) next
  s <- summary(fit)$sigma
  out[[length(out) + 1]] <- list(name = layouts$name[i], sd = s, df = df,
    low = s * sqrt(df / qchisq(0.975, df)), high = s * sqrt(df / qchisq(0.025, df)))
}
writeLines(toJSON(list(made_by = paste(R.version.string, "jsonlite", packageVersion("jsonlite")), layouts = out),
  digits = 15, auto_unbox = TRUE, pretty = TRUE), "between.json")
