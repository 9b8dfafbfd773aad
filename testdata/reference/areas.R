# Areas under concentration curves by linear trapezoids, time above a level and time
# back below a level by straight lines: Theoph (Boeckmann, Sheiner and Beal 1994; 12
# people) and Indometh (Kwan et al. 1976; 6 people), as shipped with R. The first
# values stand for the baseline. Time above is found on a fine grid by approx and held
# against the crossing points.
source("common.R")
one <- function(set, subject, t, y) {
  o <- order(t); t <- t[o]; y <- y[o]
  area <- sum(diff(t) * (head(y, -1) + tail(y, -1)) / 2)
  base <- y[1]; top <- which.max(y)
  level <- max(y) / 2
  grid <- seq(min(t), max(t), length.out = 2000001)
  fine <- approx(t, y, grid)$y
  above <- mean(fine > level) * (max(t) - min(t))
  # crossings
  exact <- 0
  for (i in seq_len(length(t) - 1)) {
    a <- y[i] - level; c <- y[i + 1] - level; h <- t[i + 1] - t[i]
    exact <- exact + if (a > 0 && c > 0) h else if (a > 0) h * a / (a - c) else if (c > 0) h * c / (c - a) else 0
  }
  stopifnot(abs(above - exact) < 1e-3 * max(t))
  after <- fine <= base & grid > t[top]
  back <- if (any(after)) uniroot(function(x) approx(t, y, x)$y - base, c(grid[which(after)[1] - 1], grid[which(after)[1]] ), tol = 1e-13)$root else NA
  data.frame(set = set, subject = subject, points = length(t), from = min(t), to = max(t), area = area, net = area - base * (max(t) - min(t)),
             mean = area / (max(t) - min(t)), level = level, above = exact, back = back)
}
rows <- rbind(do.call(rbind, lapply(split(Theoph, as.character(Theoph$Subject)), function(d) one("Theoph", as.character(d$Subject[1]), d$Time, d$conc))),
              do.call(rbind, lapply(split(Indometh, as.character(Indometh$Subject)), function(d) one("Indometh", as.character(d$Subject[1]), d$time, d$conc))))
raw <- rbind(data.frame(set = "Theoph", subject = as.character(Theoph$Subject), t = Theoph$Time, y = Theoph$conc),
             data.frame(set = "Indometh", subject = as.character(Indometh$Subject), t = Indometh$time, y = Indometh$conc))
# smoothing: runmed with its ends kept, and the running mean of three inside
y <- Theoph$conc[Theoph$Subject == 1]
smooth <- list(raw = y, median3 = as.numeric(runmed(y, 3, endrule = "keep")), median5_inside = as.numeric(runmed(y, 5, endrule = "keep"))[3:(length(y) - 2)],
               mean3_inside = as.numeric(stats::filter(y, rep(1/3, 3)))[2:(length(y) - 1)])
write_object(list(made_by = made_by(), areas = rows, raw = raw, smooth = smooth), "areas.json")
cat(rows$subject[rows$set == "Theoph" & rows$subject == "1"], rows$area[rows$set == "Theoph" & rows$subject == "1"], "\n")
