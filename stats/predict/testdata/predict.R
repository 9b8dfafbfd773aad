# Prediction and confidence limits of one treatment, from predict.lm of base R.
# Run in this folder: Rscript predict.R
#
# Layouts of responses.csv
#   plants    PlantGrowth of R (Dobson 1983), treatment only
#   unequal   INVENTED, treatment only, unequal numbers of responses
#   complete  INVENTED, treatment + block, each treatment once in each block
#   lost      INVENTED, treatment + block, three responses missing
#
# Rows of predict.csv
#   block     "none": no blocks in the model; "mean": a block like the average of
#             those observed; a number: that block; "own": the responses to that
#             treatment alone, lm(value ~ 1)
#   low, high            two-sided prediction limits at 0.95
#   mean_lower/_upper    one-sided confidence bounds of the mean, each at 0.95:
#                        the two-sided limits at 0.90
#   next_lower/_upper    the same for the next response
#
# Writes responses.csv and predict.csv.

frame <- function(layout, treatment, block, value)
  data.frame(layout = layout, treatment = treatment, block = block, value = value)
complete <- frame("complete", rep(0:3, 4), rep(1:4, each = 4),
  c(2.1, 3.4, 2.9, 1.2, 3.3, 4.1, 3.0, 2.2, 1.6, 3.9, 2.2, 1.5, 2.8, 4.4, 3.7, 1.9))
data <- rbind(
  frame("plants", as.integer(PlantGrowth$group) - 1L, 1L, PlantGrowth$weight),
  frame("unequal", rep(0:2, c(2, 4, 3)), 1L, c(3.1, 2.4, 1.9, 2.2, 1.4, 2.0, 4.2, 3.0, 3.7)),
  complete,
  within(complete[-c(1, 7, 12), ], layout <- "lost"))

limits <- function(fit, new, kind, level)
  predict(fit, new, interval = kind, level = level)[1, c("lwr", "upr")]

rows <- function(layout, fit, new, treatment, block) {
  p <- predict(fit, new, se.fit = TRUE)
  two <- limits(fit, new, "prediction", 0.95)
  m <- limits(fit, new, "confidence", 0.90)
  n <- limits(fit, new, "prediction", 0.90)
  data.frame(layout = layout, treatment = treatment, block = block, value = p$fit[[1]],
    factor = p$se.fit[[1]] / p$residual.scale, sd = p$residual.scale, df = p$df,
    low = two[[1]], high = two[[2]], mean_lower = m[[1]], mean_upper = m[[2]],
    next_lower = n[[1]], next_upper = n[[2]])
}

out <- NULL
for (layout in unique(data$layout)) {
  d <- data[data$layout == layout, ]
  d$food <- factor(d$treatment)
  if (length(unique(d$block)) == 1) {
    fit <- lm(value ~ food, d)
    for (f in levels(d$food))
      out <- rbind(out, rows(layout, fit, data.frame(food = f), f, "none"))
    next
  }
  # Blocks as columns that sum to zero: at 0 they are the average block.
  z <- contr.sum(max(d$block))[d$block, ]
  colnames(z) <- paste0("z", seq_len(ncol(z)))
  d <- cbind(d, z)
  average <- lm(reformulate(c("food", colnames(z)), "value"), d)
  d$day <- factor(d$block)
  within_block <- lm(value ~ food + day, d)
  stopifnot(abs(deviance(average) - deviance(within_block)) < 1e-12)
  zero <- as.data.frame(t(setNames(rep(0, ncol(z)), colnames(z))))
  for (f in levels(d$food)) {
    out <- rbind(out, rows(layout, average, cbind(data.frame(food = f), zero), f, "mean"))
    for (b in levels(d$day))
      out <- rbind(out, rows(layout, within_block, data.frame(food = f, day = b), f, b))
    alone <- lm(value ~ 1, d[d$food == f, ])
    out <- rbind(out, rows(layout, alone, data.frame(row.names = 1), f, "own"))
  }
}

write <- function(table, file, remarks) {
  numbers <- sapply(table, is.double)
  table[numbers] <- lapply(table[numbers], function(x) sprintf("%.15g", x))
  writeLines(c(paste("#", remarks), capture.output(
    write.csv(table, quote = FALSE, row.names = FALSE))), file)
}
made <- paste("made by predict.R with", R.version.string)
write(data, "responses.csv", c(made, "plants: PlantGrowth of R; all other numbers are invented"))
write(out, "predict.csv", made)
