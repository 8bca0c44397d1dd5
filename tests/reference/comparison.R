# Reference values for the comparisons, made with R. Run inside this folder:  Rscript comparison.R
# Writes the input tables comparison_<case>.csv (only what is simulated here) and the results comparison_results.csv.
# The tests read the stored CSV files and need no R.

suppressMessages({
  library(lme4); library(lmerTest); library(pbkrtest); library(emmeans); library(multcomp)
  library(survival); library(rstatix); library(coin)
})
emm_options(pbkrtest.limit = 1e5, lmerTest.limit = 1e5)
set.seed(20251125)
results <- list()
note <- function(case, what, candidate = "", reference = "", estimate = NA, std_error = NA, df = NA,
                 conf_low = NA, conf_high = NA, p_value = NA, p_adjusted = NA) {
  results[[length(results) + 1]] <<- data.frame(case, what, candidate, reference, estimate, std_error, df,
    conf_low, conf_high, p_value, p_adjusted)
}
keep <- function(case, table) write.csv(table, paste0("comparison_", case, ".csv"), row.names = FALSE, quote = FALSE, na = "")
note_means <- function(case, emm) {
  s <- as.data.frame(summary(emm, infer = TRUE))
  note(case, "estimate", as.character(s[[1]]), "", s$emmean, s$SE, s$df, s$lower.CL, s$upper.CL)
}
note_pairs <- function(case, pairs, adjust = "tukey", what = "difference") {
  s <- as.data.frame(summary(pairs, infer = TRUE, adjust = adjust))
  plain <- as.data.frame(summary(pairs, infer = TRUE, adjust = "none"))
  names <- strsplit(as.character(s$contrast), " - ")
  note(case, what, sapply(names, `[`, 1), sapply(names, `[`, 2), s$estimate, s$SE, s$df, s$lower.CL, s$upper.CL,
    plain$p.value, s$p.value)
}
all_pairs <- function(emm) contrast(emm, "revpairwise")
burns <- function(per, n, mean, candle_sd = .25, burn_sd = .2) {
  candles <- data.frame(wick = rep(LETTERS[seq_along(per)], per), candle = sprintf("c%02d", seq_len(sum(per))))
  candles$level <- rep(mean, per) + rnorm(nrow(candles), 0, candle_sd)
  d <- candles[rep(seq_len(nrow(candles)), each = n), ]
  d$burn <- rep(seq_len(n), nrow(candles))
  d$depth <- round(100 * (d$burn - 1) / n, 1)
  d$rate <- d$level + .004 * d$depth + rnorm(nrow(d), 0, burn_sd)
  d
}
tidy <- function(d) { d$rate <- round(d$rate, 4); d$level <- NULL; rownames(d) <- NULL; d }

# 1 balanced: 3 wicks x 3 candles x 12 burns
d <- tidy(burns(c(3, 3, 3), 12, c(5, 5.4, 5.1))); keep("balanced", d)
m <- lmer(rate ~ wick + (1 | candle), d)
e <- emmeans(m, "wick", lmer.df = "kenward-roger"); note_means("balanced", e); note_pairs("balanced", all_pairs(e))

# 2 unbalanced: candles and burns missing, depth as a covariate; Kenward-Roger and Satterthwaite
d <- tidy(burns(c(3, 4, 2, 5), 12, c(5, 5.4, 5.1, 4.9))); d <- d[sort(sample(nrow(d), round(.7 * nrow(d)))), ]
d <- d[!(d$candle == "c05" & d$burn > 2), ]; keep("unbalanced", d)
m <- lmer(rate ~ wick + depth + (1 | candle), d)
e <- emmeans(m, "wick", lmer.df = "kenward-roger"); note_means("unbalanced", e); note_pairs("unbalanced", all_pairs(e))
e <- emmeans(m, "wick", lmer.df = "satterthwaite"); note_means("satterthwaite", e); note_pairs("satterthwaite", all_pairs(e))
v <- as.data.frame(VarCorr(m)); note("unbalanced", "sd", c("candle", "burn"), "", v$sdcor)
k <- KRmodcomp(m, lmer(rate ~ depth + (1 | candle), d))$stats
note("unbalanced", "F", "wick", "", k$Fstat, NA, k$ddf, k$ndf, NA, k$p.value)

# 3 re-wicked: four of nine candles carry a second wick from burn 7 on; each wick run is a unit
d <- burns(c(3, 3, 3), 12, c(5, 5.4, 5.1)); first <- d$wick
change <- d$candle %in% c("c01", "c02", "c05", "c08") & d$burn > 6
d$wick <- ifelse(change, LETTERS[(match(first, LETTERS) %% 3) + 1], first)
d$rate <- d$rate + .3 * ((d$wick == "B") - (first == "B")) + rnorm(18, 0, .1)[match(paste(d$candle, d$wick), unique(paste(d$candle, d$wick)))]
d <- tidy(d); d <- d[-c(5, 17, 44, 80), ]; keep("rewicked", d)
d$run <- paste(d$candle, d$wick)
m <- lmer(rate ~ wick + depth + (1 | run), d)
e <- emmeans(m, "wick", lmer.df = "kenward-roger"); note_means("rewicked", e); note_pairs("rewicked", all_pairs(e))
m <- lmer(rate ~ wick + depth + (1 | candle), d)  # a level per candle only: checks the model's arithmetic
e <- emmeans(m, "wick", lmer.df = "kenward-roger"); note_pairs("rewicked_candle", all_pairs(e))

# 4 zero candle variance
repeat {
  d <- tidy(burns(c(3, 3, 3, 3), 8, c(5, 5.1, 5, 5.2), candle_sd = 0))
  m <- suppressMessages(lmer(rate ~ wick + (1 | candle), d)); if (isSingular(m)) break
}
keep("zero_variance", d)
e <- emmeans(m, "wick", lmer.df = "kenward-roger"); note_means("zero_variance", e); note_pairs("zero_variance", all_pairs(e))
d <- d[-c(1:5, 20, 33:36, 90), ]
repeat { m <- suppressMessages(lmer(rate ~ wick + (1 | candle), d)); if (isSingular(m)) break; d <- d[-sample(nrow(d), 1), ] }
keep("zero_variance_unbalanced", d)
e <- emmeans(m, "wick", lmer.df = "kenward-roger"); note_pairs("zero_variance_unbalanced", all_pairs(e))

# 5 Games-Howell, 6 Dunnett, 7 Tukey-Kramer on candles, all on one table of candles
d <- data.frame(wick = rep(LETTERS[1:4], c(4, 5, 3, 6)), candle = sprintf("c%02d", 1:18))
d$rate <- round(rnorm(18, c(A = 5, B = 5.4, C = 6, D = 5.2)[d$wick], c(A = .1, B = .3, C = .5, D = .2)[d$wick]), 3)
keep("candles", d)
g <- games_howell_test(d, rate ~ wick, detailed = TRUE)  # group2 minus group1; p is rounded by rstatix
note("games_howell", "difference", g$group2, g$group1, g$estimate, g$se * sqrt(2), g$df, g$conf.low, g$conf.high)
w <- t.test(rate ~ wick, d[d$wick %in% c("A", "C"), ])
note("games_howell", "welch", "C", "A", -diff(rev(w$estimate)), w$stderr, w$parameter, NA, NA, w$p.value)
m <- lm(rate ~ wick, transform(d, wick = factor(wick)))
x <- glht(m, mcp(wick = "Dunnett")); s <- summary(x); ci <- confint(x, calpha = qmvt(.95, df = 14, tail = "both.tails", corr = cov2cor(vcov(x)), algorithm = GenzBretz(maxpts = 1e6, abseps = 1e-7))$quantile)
p <- sapply(s$test$tstat, function(t) 1 - pmvt(rep(-abs(t), 3), rep(abs(t), 3), df = 14, corr = cov2cor(vcov(x)), algorithm = GenzBretz(maxpts = 1e6, abseps = 1e-7)))
note("dunnett", "difference", LETTERS[2:4], "A", s$test$coefficients, s$test$sigma, 14, ci$confint[, 2], ci$confint[, 3],
  2 * pt(-abs(s$test$tstat), 14), p)
e <- emmeans(m, "wick"); note_means("tukey_kramer", e); note_pairs("tukey_kramer", all_pairs(e))

# 8 equivalence within 0.6, pooled and Welch, candles of A and D
two <- d[d$wick %in% c("A", "D"), ]; two$wick <- factor(two$wick, levels = c("D", "A"))
for (pooled in c(TRUE, FALSE)) {
  low <- t.test(rate ~ wick, two, mu = -.6, alternative = "greater", var.equal = pooled)
  high <- t.test(rate ~ wick, two, mu = .6, alternative = "less", var.equal = pooled)
  inside <- t.test(rate ~ wick, two, conf.level = .9, var.equal = pooled)
  note(if (pooled) "tost_pooled" else "tost_welch", "difference", "D", "A", low$estimate[1] - low$estimate[2], low$stderr,
    low$parameter, inside$conf.int[1], inside$conf.int[2], max(low$p.value, high$p.value))
}

# 9 Dunnett on burns: multivariate t with the Kenward-Roger covariance and df (balanced table)
b <- read.csv("comparison_balanced.csv")
e <- emmeans(lmer(rate ~ wick + (1 | candle), b), "wick", lmer.df = "kenward-roger")
note_pairs("dunnett_burns", contrast(e, "trt.vs.ctrl"), adjust = "mvt")

# 10 exact binomial, Wilson, Newcombe from Wilson
for (k in list(c(3, 3), c(5, 6), c(0, 8), c(11, 20))) {
  x <- binom.test(k[1], k[2])$conf.int; y <- suppressWarnings(prop.test(k[1], k[2], correct = FALSE))$conf.int
  note("binomial", "exact", k[1], k[2], k[1] / k[2], NA, NA, x[1], x[2]); note("binomial", "score", k[1], k[2], k[1] / k[2], NA, NA, y[1], y[2])
}
for (k in list(c(3, 3, 0, 3), c(5, 6, 2, 6), c(11, 20, 4, 15))) {
  a <- suppressWarnings(prop.test(k[1], k[2], correct = FALSE))$conf.int; z <- suppressWarnings(prop.test(k[3], k[4], correct = FALSE))$conf.int
  p <- k[1] / k[2]; q <- k[3] / k[4]
  note("newcombe", "difference", paste(k[1], k[2]), paste(k[3], k[4]), p - q, NA, NA,
    p - q - sqrt((p - a[1])^2 + (z[2] - q)^2), p - q + sqrt((q - z[1])^2 + (a[2] - p)^2))
}

# 11 crossed with a block: 2 wicks x 3 waxes, burn day as block, one value per candle, one candle lost
d <- expand.grid(day = c("mon", "tue", "wed"), wax = c("soy", "rape", "mix"), wick = c("A", "B"), stringsAsFactors = FALSE)
d$candle <- sprintf("c%02d", seq_len(nrow(d)))
d$rate <- round(5 + .4 * (d$wick == "B") + .3 * (d$wax == "mix") + .4 * (d$wick == "B" & d$wax == "mix") + .2 * (d$day == "wed") + rnorm(18, 0, .2), 3)
d <- d[-7, c("wick", "wax", "day", "candle", "rate")]; keep("crossed", d)
m <- lm(rate ~ factor(wick) * factor(wax, levels = c("soy", "rape", "mix")) + day, d)
a <- anova(lm(rate ~ wick + wax + day, d), m); note("crossed", "F", "wick x wax", "", a$F[2], NA, a$Res.Df[2], a$Df[2], NA, a$`Pr(>F)`[2])
d$wax <- factor(d$wax, levels = c("soy", "rape", "mix")); m <- lm(rate ~ wick * wax + day, d)
e <- emmeans(m, ~ wick + wax); s <- as.data.frame(summary(e)); note("crossed", "estimate", paste(s$wick, s$wax), "", s$emmean, s$SE, s$df, s$lower.CL, s$upper.CL)
note_pairs("crossed", all_pairs(emmeans(m, "wick")), what = "wick"); note_pairs("crossed", all_pairs(emmeans(m, "wax")), what = "wax")
s <- as.data.frame(summary(contrast(e, interaction = "revpairwise"), infer = TRUE, adjust = "bonferroni"))
note("crossed", "interaction", as.character(s$wax_revpairwise), as.character(s$wick_revpairwise), s$estimate, s$SE, s$df, s$lower.CL, s$upper.CL, NA, s$p.value)

# 12 crossed on burns: interaction F after Kenward-Roger, unbalanced
d <- burns(rep(2, 6), 8, c(5, 5.2, 5.1, 5.6, 5, 5.3)); d$load <- c(A = 0, B = 6, C = 0, D = 6, E = 0, F = 6)[d$wick]
d$wick <- c(A = "w1", B = "w1", C = "w2", D = "w2", E = "w3", F = "w3")[d$wick]; d <- tidy(d); d <- d[-sample(nrow(d), 14), ]
keep("crossed_burns", d); d$load <- factor(d$load)
k <- KRmodcomp(lmer(rate ~ wick * load + (1 | candle), d), lmer(rate ~ wick + load + (1 | candle), d))$stats
note("crossed_burns", "F", "wick x load", "", k$Fstat, NA, k$ddf, k$ndf, NA, k$p.value)

# 13 trend: four fragrance loads, unbalanced burns, line and curve
d <- burns(c(3, 3, 3, 3), 10, c(5, 5.3, 5.5, 5.4)); d$load <- c(A = 0, B = 3, C = 6, D = 9)[d$wick]; d <- tidy(d)
d <- d[-sample(nrow(d), 25), c("candle", "load", "burn", "depth", "rate")]; keep("trend", d)
for (power in 1:2) {
  m <- if (power == 1) lmer(rate ~ load + depth + (1 | candle), d) else lmer(rate ~ load + I(load^2) + depth + (1 | candle), d)
  l <- rep(0, power + 2); l[power + 1] <- 1
  b <- fixef(m)[power + 1]; se <- sqrt(vcovAdj(m)[power + 1, power + 1]); df <- Lb_ddf(l, vcov(m), vcovAdj(m))
  note("trend", c("slope", "curvature")[power], "", "", b, se, df, b - qt(.975, df) * se, b + qt(.975, df) * se, 2 * pt(-abs(b / se), df))
}

# 14 Turnbull, on hourly checks
d <- data.frame(wick = rep(c("A", "B"), each = 9), candle = sprintf("c%02d", 1:18))
time <- c(rweibull(9, 3, 2.2), rweibull(9, 3, 3.4)); step <- rep(c(1, .5, 1), 6)
d$after <- floor(time / step) * step; d$until <- d$after + step
late <- d$until > 4; d$after[late] <- 4; d$until[late] <- NA
keep("full_pool", d)
for (w in c("A", "B")) {
  x <- d[d$wick == w, ]
  s <- survfit(Surv(ifelse(x$after == 0, NA, x$after), x$until, type = "interval2") ~ 1)
  note("turnbull", "share", w, "", s$surv, NA, s$time)
}

# 15 Kaplan-Meier, log-rank, and the exact permutation of the log-rank scores
d <- data.frame(wick = rep(c("A", "B"), c(6, 7)), candle = sprintf("c%02d", 1:13),
  burns = c(3, 5, 6, 9, 11, 12, 4, 8, 13, 14, 15, 16, 17), failed = c(1, 1, 1, 1, 1, 0, 1, 1, 0, 1, 0, 1, 0))
keep("failure", d)
s <- summary(survfit(Surv(burns, failed) ~ wick, d, conf.type = "log-log"))
note("kaplan_meier", "share", sub("wick=", "", s$strata), "", s$surv, s$std.err, s$time, s$lower, s$upper)
x <- survdiff(Surv(burns, failed) ~ wick, d); note("logrank", "chi2", "", "", x$chisq, NA, 1, NA, NA, pchisq(x$chisq, 1, lower.tail = FALSE))
note("logrank", "observed minus expected", "A", "", (x$obs - x$exp)[1])
x <- logrank_test(Surv(burns, failed) ~ factor(wick), d, distribution = "exact"); note("logrank", "exact", "", "", NA, NA, NA, NA, NA, pvalue(x))

# 16 sleepstudy (Belenky et al. 2003), random intercept, as lme4 carries it
write.csv(data.frame(sleepstudy), "sleepstudy.csv", row.names = FALSE, quote = FALSE)
m <- lmer(Reaction ~ Days + (1 | Subject), sleepstudy)
s <- coef(summary(m)); v <- as.data.frame(VarCorr(m))
note("sleepstudy", "fixed", rownames(s), "satterthwaite", s[, 1], s[, 2], s[, 3])
note("sleepstudy", "variance", c("Subject", "Residual"), "", v$vcov); note("sleepstudy", "criterion", "", "", REMLcrit(m))
note("sleepstudy", "fixed", rownames(s), "kenward-roger", s[, 1], sqrt(diag(as.matrix(vcovAdj(m)))), c(Lb_ddf(c(1, 0), vcov(m), vcovAdj(m)), Lb_ddf(c(0, 1), vcov(m), vcovAdj(m))))

# 17 candles with blocks, a plain linear model: wax and day as blocks
d <- read.csv("comparison_crossed.csv"); m <- lm(rate ~ wick + wax + day, d)
e <- emmeans(m, "wick"); note_means("blocks", e); note_pairs("blocks", all_pairs(e))
m <- lm(rate ~ wax + wick + day, d); e <- emmeans(m, "wax"); note_pairs("blocks_wax", all_pairs(e))

# 18 burns with a block and depth: three wicks over two loads, unbalanced
d <- read.csv("comparison_crossed_burns.csv"); d$load <- paste0("load ", d$load)
m <- lmer(rate ~ wick + load + depth + (1 | candle), d)
e <- emmeans(m, "wick", lmer.df = "kenward-roger"); note_means("block_of_burns", e); note_pairs("block_of_burns", all_pairs(e))

# 19 published data through the same question: dietox (copper by pig, 861 weighings), Pastes (batches by cask), Dyestuff2 (no spread of batches)
d <- read.csv("dietox.csv"); d$Cu <- paste0("Cu", d$Cu); m <- lmer(Weight ~ Cu + Time + (1 | Pig), d)
e <- emmeans(m, "Cu", lmer.df = "kenward-roger"); note_means("dietox", e); note_pairs("dietox", all_pairs(e))
d <- read.csv("pastes.csv"); m <- lmer(strength ~ batch + (1 | sample), d)
e <- emmeans(m, "batch", lmer.df = "kenward-roger"); note_means("pastes", e); note_pairs("pastes", all_pairs(e))
d <- data.frame(all = "all", Dyestuff2); write.csv(d, "dyestuff2.csv", row.names = FALSE, quote = FALSE)
m <- suppressMessages(lmer(Yield ~ 1 + (1 | Batch), d)); k <- vcovAdj(m)[1, 1]; df <- Lb_ddf(1, vcov(m), vcovAdj(m))
note("dyestuff2", "estimate", "all", "", fixef(m), sqrt(k), df, fixef(m) - qt(.975, df) * sqrt(k), fixef(m) + qt(.975, df) * sqrt(k))
note("dyestuff2", "sd", c("candle", "burn"), "", as.data.frame(VarCorr(m))$sdcor)

# 20 two candidates of three candles and twelve burns; and one candidate with a single candle
d <- read.csv("comparison_balanced.csv"); d <- d[d$wick != "C", ]; m <- lmer(rate ~ wick + (1 | candle), d)
e <- emmeans(m, "wick", lmer.df = "kenward-roger"); note_means("two", e); note_pairs("two", all_pairs(e))
d <- read.csv("comparison_unbalanced.csv"); d <- d[!(d$wick == "C" & d$candle != "c09"), ]; m <- lmer(rate ~ wick + (1 | candle), d)
e <- emmeans(m, "wick", lmer.df = "kenward-roger"); note_means("single", e); note_pairs("single", all_pairs(e))

all <- do.call(rbind, results)
numbers <- sapply(all, is.numeric); all[numbers] <- lapply(all[numbers], function(x) signif(x, 12))
write.csv(all, "comparison_results.csv", row.names = FALSE, quote = FALSE, na = "")
cat(R.version.string, "\n"); for (p in c("lme4", "lmerTest", "pbkrtest", "emmeans", "multcomp", "mvtnorm", "survival", "rstatix", "coin")) cat(p, as.character(packageVersion(p)), "\n")
