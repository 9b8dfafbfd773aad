# Small published data sets, analysed as this project analyses food tests.
#
# sleep      ten people, two drugs, as a layout of 10 blocks and 2 treatments: lm and
#            paired t test. Cushny and Peebles 1905; Student 1908, Biometrika 6:1
#            (R data set sleep).
# peak_flow  20 children with 4 readings each: one-way analysis of variance, within-child
#            spread, repeatability. Bland and Altman 1996, BMJ 313:744. The summary
#            figures printed there (variance 460.52, s_w 21.5, 42.1 and about 60) are
#            from memory; the data reproduce them.
# rail       6 rails with 3 readings each: the same. Devore 2000, Probability and
#            Statistics for Engineering and the Sciences; Pinheiro and Bates 2000
#            (R package nlme, data set Rail).
#
# Writes classic.json.

source("common.R")
suppressPackageStartupMessages({ library(nlme); library(emmeans) })

sleep_layout <- data.frame(block = as.integer(sleep$ID), treatment = paste0("drug", sleep$group), value = sleep$extra)
fit <- lm(value ~ factor(treatment) + factor(block), sleep_layout)
paired <- with(sleep_layout, t.test(value[treatment == "drug1"], value[treatment == "drug2"], paired = TRUE))
em <- summary(pairs(emmeans(lm(value ~ treatment + block, transform(sleep_layout, block = factor(block))), "treatment", weights = "equal"),
                    adjust = "none"), infer = c(TRUE, TRUE))
stopifnot(all.equal(em$estimate, unname(paired$estimate)), all.equal(em$t.ratio, unname(paired$statistic)),
          all.equal(em$p.value, paired$p.value), all.equal(c(em$lower.CL, em$upper.CL), as.vector(paired$conf.int)))
sleep_out <- list(source = "Cushny and Peebles 1905; Student 1908; R data set sleep",
  rows = sleep_layout, sigma = sigma(fit), df = df.residual(fit),
  difference = list(a = "drug1", b = "drug2", estimate = unname(paired$estimate), se = paired$stderr, df = unname(paired$parameter),
                    t = unname(paired$statistic), p = paired$p.value, low = paired$conf.int[1], high = paired$conf.int[2]))

one_way <- function(rows, source) {
  a <- anova(lm(value ~ factor(group), rows))
  k <- nlevels(factor(rows$group)); n <- nrow(rows) / k
  ms <- a$`Mean Sq`; df <- a$Df; F <- a$`F value`[1]; sw <- sqrt(ms[2])
  fl <- F / qf(0.975, df[1], df[2]); fu <- F * qf(0.975, df[2], df[1])
  list(source = source, rows = rows, groups = k, readings_each = n,
    ss_between = a$`Sum Sq`[1], ss_within = a$`Sum Sq`[2], df_between = df[1], df_within = df[2],
    ms_between = ms[1], ms_within = ms[2], f = F, p = a$`Pr(>F)`[1],
    s_w = sw, s_w_low = sw * sqrt(df[2] / qchisq(0.975, df[2])), s_w_high = sw * sqrt(df[2] / qchisq(0.025, df[2])),
    to_true_value = 1.96 * sw, two_readings_2_77 = 2.77 * sw, two_readings_1_96 = 1.96 * sqrt(2) * sw,
    repeatability_t = qt(0.975, df[2]) * sqrt(2) * sw, repeatability_normal = qnorm(0.975) * sqrt(2) * sw,
    between_sd = sqrt(max(0, (ms[1] - ms[2]) / n)),
    icc = (ms[1] - ms[2]) / (ms[1] + (n - 1) * ms[2]),
    icc_low = (fl - 1) / (fl + n - 1), icc_high = (fu - 1) / (fu + n - 1))
}

flow <- c(190,220,200,200, 220,200,240,230, 260,260,240,280, 210,300,280,265,
          270,265,280,270, 280,280,270,275, 260,280,280,300, 275,275,275,305,
          280,290,300,290, 320,290,300,290, 300,300,310,300, 270,250,330,370,
          320,330,330,330, 335,320,335,375, 350,320,340,365, 360,320,350,345,
          330,340,380,390, 335,385,360,370, 400,420,425,420, 430,460,480,470)
peak_flow <- data.frame(group = rep(1:20, each = 4), value = flow)
rail <- data.frame(group = as.integer(as.character(Rail$Rail)), value = Rail$travel)

write_object(list(made_by = made_by(c("nlme", "emmeans", "jsonlite")),
  sleep = sleep_out,
  peak_flow = one_way(peak_flow, "Bland and Altman 1996, BMJ 313:744; l/min"),
  rail = one_way(rail, "Devore 2000; Pinheiro and Bates 2000; R package nlme, data set Rail")), "classic.json")
