# A secondary outcome that climbs over the study, with missing values: food + block +
# day by lm, marginal means at the average day by emmeans. Invented data.
source("common.R")
suppressMessages(library(emmeans))
set.seed(20270111)
cases <- lapply(list(list(blocks = 4, lost = c()), list(blocks = 5, lost = c(3, 8)), list(blocks = 3, lost = 5), list(blocks = 1, lost = 2)), function(case) {
  d <- do.call(rbind, lapply(seq_len(case$blocks), function(b) data.frame(block = b, food = sample(c("wheat", "lupin", "oats")))))
  if (case$blocks == 1) d <- data.frame(block = 1, food = sample(rep(c("wheat", "lupin", "oats"), 4)))
  d$day <- cumsum(sample(2:4, nrow(d), TRUE)) - 2
  d$y <- round(70 + 0.05 * d$day + c(wheat = 0, lupin = 0.1, oats = -0.2)[d$food] + rnorm(nrow(d), 0, 0.2), 3)
  d$lost <- seq_len(nrow(d)) %in% case$lost
  use <- d[!d$lost, ]
  fit <- if (case$blocks > 1) lm(y ~ food + factor(block) + day, use) else lm(y ~ food + day, use)
  e <- summary(emmeans(fit, "food"), level = 0.95)
  p <- summary(pairs(emmeans(fit, "food"), adjust = "none"), infer = TRUE)
  trend <- confint(fit)["day", ]
  list(rows = d, means = data.frame(food = as.character(e$food), mean = e$emmean, low = e$lower.CL, high = e$upper.CL),
       differences = data.frame(contrast = gsub(" - ", " vs ", p$contrast), estimate = p$estimate, low = p$lower.CL, high = p$upper.CL, df = p$df),
       trend = list(per_week = 7 * unname(coef(fit)["day"]), low = 7 * unname(trend[1]), high = 7 * unname(trend[2])))
})
write_object(list(made_by = made_by("emmeans"), cases = cases), "outcomes.json")
