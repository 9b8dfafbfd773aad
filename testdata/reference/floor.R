# A food against days without food: lm(food + block) of the foods, the blank by itself,
# joined with Satterthwaite's degrees of freedom; the bound of the next blank; and the
# peak rise of level curves with noise of SD 4, by simulation. Invented data.
source("common.R")
suppressMessages(library(emmeans))
set.seed(20270211)
cases <- lapply(list(list(4, 4), list(3, 2), list(5, 5)), function(n) {
  d <- expand.grid(food = c("wheat", "lupin"), block = seq_len(n[[1]]))
  d$food <- as.character(d$food)
  d$y <- round(c(wheat = 50, lupin = 12)[d$food] + rnorm(n[[1]], 0, 3)[d$block] + rnorm(nrow(d), 0, 6), 1)
  blank <- round(rnorm(n[[2]], 6, 2), 1)
  e <- as.data.frame(summary(emmeans(lm(y ~ food + factor(block), d), "food")))
  m <- mean(blank); b <- var(blank) / length(blank)
  foods <- do.call(rbind, lapply(seq_len(nrow(e)), function(i) {
    a <- e$SE[i]^2
    df <- (a + b)^2 / (a^2 / e$df[i] + b^2 / (length(blank) - 1))
    half <- qt(0.975, df) * sqrt(a + b)
    data.frame(food = as.character(e$food[i]), difference = e$emmean[i] - m, low = e$emmean[i] - m - half, high = e$emmean[i] - m + half)
  }))
  t <- t.test(blank)
  list(rows = d, blank = blank, mean = m, low = t$conf.int[1], high = t$conf.int[2],
       upper = m + qt(0.95, length(blank) - 1) * sd(blank) * sqrt(1 + 1 / length(blank)), foods = foods)
})
# 5-minute readings, baseline −15 to 0, window 0 to 120
n <- 400000
noise <- matrix(rnorm(n * 28, 0, 4), n)
rise <- apply(noise[, 4:28], 1, max) - rowMeans(noise[, 1:4])
simulated <- list(sd = 4, mean = mean(rise), p95 = as.numeric(quantile(rise, 0.95)), error = sd(rise) / sqrt(n))
cat(simulated$mean, simulated$p95, "\n")
write_object(list(made_by = made_by("emmeans"), cases = cases, simulated = simulated), "floor.json")
