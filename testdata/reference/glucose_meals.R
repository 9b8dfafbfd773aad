# Blood glucose of 6 people before and after meals at 6 times of day, and the
# features of each curve: baseline, peak rise, time of the peak, incremental area.
#
# Data: Glucose in the R package nlme, from Hand DJ, Crowder MJ (1996), Practical
# Longitudinal Data Analysis, Chapman & Hall.
#
# baseline      mean of the readings at -15 and 0 min
# peak_rise     highest reading from 0 to 120 min minus the baseline
# time_of_peak  minutes; the earliest where several are highest
# iauc          area from 0 to 120 min above the baseline, what lies below ignored:
#               the integral of max(f - baseline, 0), f joining the readings by lines.
#               Done by adding every crossing as a point, cutting, then trapezoids.
#
# Writes glucose_meals.csv and glucose_meals_features.csv.

source("common.R")
suppressPackageStartupMessages(library(nlme))

raw <- data.frame(subject = as.integer(as.character(Glucose$Subject)),
                  meal = as.character(Glucose$Meal),
                  minutes = 60 * Glucose$Time,
                  conc_mmol_l = Glucose$conc)
clock <- c("2am", "6am", "10am", "2pm", "6pm", "10pm")
stopifnot(setequal(unique(raw$meal), clock))
raw <- raw[order(raw$subject, match(raw$meal, clock), raw$minutes), ]

area_above <- function(minutes, conc, baseline) {
  above <- conc - baseline
  f <- approxfun(minutes, above)
  crossings <- numeric()
  for (i in seq_along(above)[-1]) {
    if (above[i - 1] * above[i] < 0) {
      line <- function(m) above[i - 1] + (above[i] - above[i - 1]) * (m - minutes[i - 1]) / (minutes[i] - minutes[i - 1])
      at <- minutes[i - 1] + (minutes[i] - minutes[i - 1]) * above[i - 1] / (above[i - 1] - above[i])
      stopifnot(abs(line(at)) < 1e-12)
      crossings <- c(crossings, at)
    }
  }
  x <- sort(c(minutes, crossings))
  y <- pmax(ifelse(x %in% crossings, 0, f(x)), 0)
  sum(diff(x) * (head(y, -1) + tail(y, -1)) / 2)
}

features <- function(d) {
  d <- d[!is.na(d$conc_mmol_l), ]
  baseline <- mean(d$conc_mmol_l[d$minutes %in% c(-15, 0)])
  stopifnot(sum(d$minutes %in% c(-15, 0)) == 2)
  w <- d[d$minutes >= 0 & d$minutes <= 120, ]
  stopifnot(all(w$minutes == seq(0, 120, 30)))
  data.frame(subject = d$subject[1], meal = d$meal[1], baseline = baseline,
             peak_rise = max(w$conc_mmol_l) - baseline,
             time_of_peak = w$minutes[which.max(w$conc_mmol_l)],
             iauc = area_above(w$minutes, w$conc_mmol_l, baseline))
}
groups <- split(raw, factor(paste(raw$subject, raw$meal), unique(paste(raw$subject, raw$meal))))
table36 <- do.call(rbind, lapply(groups, features))
stopifnot(nrow(table36) == 36, nrow(raw) == 378, sum(is.na(raw$conc_mmol_l)) == 2)

source_line <- "data: Glucose of the R package nlme, from Hand and Crowder 1996, Practical Longitudinal Data Analysis"
write_table(raw, "glucose_meals.csv",
            c(paste("made by glucose_meals.R with", made_by("nlme")), source_line,
              "minutes from the meal, negative before it; conc_mmol_l is empty where missing"))
write_table(table36, "glucose_meals_features.csv",
            c(paste("made by glucose_meals.R with", made_by("nlme")), source_line,
              "baseline: mean of -15 and 0 min; the rest over 0 to 120 min; mmol/L, min, mmol/L x min"))
