# Exact intervals and tests of counts, and rank tests within blocks.
# binom.test, fisher.test, mantelhaen.test and mcnemar by binom.test; rank tests by
# looking at every way to share the values of each block out.
source("common.R")
intervals <- do.call(rbind, lapply(list(c(0,3), c(0,6), c(0,10), c(0,30), c(3,10), c(7,20), c(10,10), c(1,4), c(2,3), c(682,925), c(1,60)), function(x)
  do.call(rbind, lapply(c(0.8, 0.95, 0.99), function(level) {
    two <- binom.test(x[1], x[2], conf.level = level)
    data.frame(events = x[1], trials = x[2], level = level, low = two$conf.int[1], high = two$conf.int[2],
               upper = binom.test(x[1], x[2], alternative = "less", conf.level = level)$conf.int[2],
               lower = binom.test(x[1], x[2], alternative = "greater", conf.level = level)$conf.int[1],
               p_half = two$p.value, p_three_quarters = binom.test(x[1], x[2], 0.75)$p.value)
  }))))
tables <- do.call(rbind, lapply(list(c(3,4,1,4), c(4,4,0,4), c(0,3,2,3), c(1,9,11,14), c(2,5,2,6), c(0,4,0,4), c(7,10,2,12), c(30,60,12,50)), function(x)
  data.frame(events_a = x[1], trials_a = x[2], events_b = x[3], trials_b = x[4],
             p = fisher.test(matrix(c(x[1], x[2]-x[1], x[3], x[4]-x[3]), 2))$p.value)))
strata <- lapply(list(
  list(c(1,1,0,1), c(1,1,0,1), c(0,1,1,1), c(1,1,0,1), c(1,1,1,1), c(1,1,0,1)),
  list(c(2,2,0,1), c(1,2,0,2), c(0,1,1,2)),
  list(c(3,4,1,5), c(2,3,1,6), c(4,5,2,4))), function(s) {
  a <- array(unlist(lapply(s, function(x) c(x[1], x[2]-x[1], x[3], x[4]-x[3]))), c(2, 2, length(s)))
  list(tables = lapply(s, as.list), p = mantelhaen.test(a, exact = TRUE)$p.value)
})
# rank tests
share_out <- function(blocks) {
  ranks <- lapply(blocks, function(b) rank(c(b$a, b$b)))
  w <- sum(mapply(function(r, b) sum(r[seq_along(b$a)]), ranks, blocks))
  expected <- sum(mapply(function(r, b) length(b$a) * (length(r) + 1) / 2, ranks, blocks))
  all <- 0
  for (i in seq_along(blocks)) all <- as.vector(outer(all, combn(ranks[[i]], length(blocks[[i]]$a), sum), "+"))
  list(w = w, expected = expected, p = mean(abs(all - expected) >= abs(w - expected) - 1e-9),
       smallest = mean(abs(all - expected) >= max(abs(all - expected)) - 1e-9))
}
two <- function(a, b) list(a = I(a), b = I(b))
cases <- list(
  list(two(c(1.1, 2.2, 3.3, 4.4), c(0.5, 1.7, 2.9, 0.2))),
  list(two(c(3, 5, 5, 7), c(2, 3, 3, 4, 5))),
  list(two(6, 4), two(5, 5), two(7, 3), two(4, 6), two(8, 2), two(6, 5)),
  list(two(c(6, 7), 4), two(c(5, 5), c(3, 5)), two(8, c(7, 8, 2))),
  list(two(extra1 <- sleep$extra[1:10], sleep$extra[11:20])))
ranks <- lapply(cases, function(b) {
  r <- share_out(b)
  c(list(blocks = lapply(b, function(x) list(a = as.list(unclass(x$a)), b = as.list(unclass(x$b))))), r)
})
# where there are no ties and one block, R's own exact test has to agree
stopifnot(all.equal(ranks[[1]]$p, wilcox.test(c(1.1, 2.2, 3.3, 4.4), c(0.5, 1.7, 2.9, 0.2), exact = TRUE)$p.value))
# with ties in one block, coin's exact distribution
library(coin)
tied <- data.frame(y = c(3, 5, 5, 7, 2, 3, 3, 4, 5), g = factor(rep(1:2, c(4, 5))))
stopifnot(all.equal(ranks[[2]]$p, as.numeric(pvalue(wilcox_test(y ~ g, tied, distribution = "exact")))))
# one against one in each block: the sign test of the pairs that differ
stopifnot(all.equal(ranks[[3]]$p, binom.test(4, 5)$p.value))
write_object(list(made_by = made_by("coin"), intervals = intervals, tables = tables, strata = strata, ranks = ranks), "counts.json")
