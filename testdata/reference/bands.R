# Mean curves with their bands: at each minute the means of the foods by
# lm(rise ~ 0 + food), whose confidence intervals take one spread for all foods;
# the blank by itself. Rises are above the mean of the readings from 15 min before
# the first bite to it; between readings curves are straight lines (approx).
# Invented readings, written to bands_readings.csv; values to bands.json.
# Run in this folder: Rscript bands.R
source("common.R")
set.seed(20270111)
tests <- data.frame(test = 1:9, food = c("a", "b", "water", "b", "a", "water", "a", "b", "a"))
top <- c(a = 55, b = 25, water = 3)
rows <- NULL
for (i in tests$test) {
  minute <- seq(-18, 132, by = 6) + (i %% 3)
  x <- pmax(0, minute / 45)
  glucose <- round(90 + 2 * i + (top[[tests$food[i]]] + 3 * (i %% 4)) * x * exp(1 - x) + rnorm(length(minute), 0, 2))
  if (i == 4) { keep <- minute < 40 | minute > 75; minute <- minute[keep]; glucose <- glucose[keep] } # a gap of more than 20 min
  rows <- rbind(rows, data.frame(test = i, food = tests$food[i], minute = minute, glucose = glucose))
}
write.csv(rows, "bands_readings.csv", row.names = FALSE, quote = FALSE)

out <- NULL
for (m in c(0, 30, 45, 60, 120)) {
  d <- NULL
  for (i in tests$test) {
    r <- rows[rows$test == i, ]
    base <- mean(r$glucose[r$minute >= -15 & r$minute <= 0])
    before <- max(r$minute[r$minute <= m]); after <- min(r$minute[r$minute >= m])
    if (after - before > 20) next
    d <- rbind(d, data.frame(food = tests$food[i], rise = approx(r$minute, r$glucose - base, xout = m)$y))
  }
  for (part in list(d[d$food != "water", ], d[d$food == "water", ])) {
    fit <- if (length(unique(part$food)) > 1) lm(rise ~ 0 + food, part) else lm(rise ~ 1, part)
    for (f in unique(part$food)) {
      p <- predict(fit, data.frame(food = f), interval = "confidence", level = 0.95)
      out <- rbind(out, data.frame(minute = m, food = f, tests = sum(part$food == f), mean = p[1], low = p[2], high = p[3]))
    }
  }
}
write_object(list(made_by = made_by("jsonlite"), rows = out), "bands.json")
