# Makes planning_results.csv: power, equivalence, tolerance factors and inverse prediction by R itself.
# R 4.2.2 from Debian 12, no package. Run as: Rscript planning.R > planning_results.csv
rows <- list()
add <- function(what, a, b, c, d, value) rows[[length(rows) + 1]] <<- data.frame(what, a, b, c, d, value)

# two candidates: power of the two-sided t test (stats::power.t.test, strict); a = candles of each, b = difference / sd
for (n in c(3, 5, 9, 20)) for (d in c(0.5, 1, 2))
  add("t", n, d, NA, 0.05, power.t.test(n = n, delta = d, sd = 1, strict = TRUE)$power)

# k candidates: power of the F test (stats::power.anova.test); c = candidates, b = effect f of Cohen
for (k in c(3, 4, 6)) for (n in c(3, 6, 12)) for (f in c(0.25, 0.4, 0.8))
  add("anova", n, f, k, 0.05, power.anova.test(groups = k, n = n, between.var = f^2 * k / (k - 1), within.var = 1)$power)

# one pair among k, all pairs looked at (Tukey): ptukey's quantile and the noncentral t
for (k in c(3, 6)) for (n in c(3, 6, 12)) for (d in c(1, 2, 3)) {
  df <- k * (n - 1); t <- qtukey(0.95, k, df) / sqrt(2); away <- d / sqrt(2 / n)
  add("tukey", n, d, k, 0.05, pt(t, df, away, lower.tail = FALSE) + pt(-t, df, away))
}

# two one-sided tests, truly d apart, margin b, in sd of candles: bivariate noncentral t with correlation 1 as
# an integral over the estimated spread in R's own integrate()
tost <- function(n, margin, d, alpha) {
  df <- 2 * n - 2; t <- qt(1 - alpha, df); se <- sqrt(2 / n)
  f <- function(s) {
    room <- margin / se - t * s
    2 * df * s * dchisq(df * s^2, df) * (pnorm(room - d / se) - pnorm(-room - d / se))
  }
  integrate(f, 0, margin / se / t, rel.tol = 1e-10, subdivisions = 2000)$value
}
for (n in c(3, 6, 12, 24)) for (m in c(1, 1.5, 2)) for (d in c(0, 0.5)) add("tost", n, m, d, 0.05, tost(n, m, d, 0.05))

# one-sided tolerance factors: a = n, b = coverage, c = confidence
for (n in c(2, 3, 4, 6, 9, 10, 20, 43)) for (p in c(0.9, 0.95, 0.99)) for (g in c(0.9, 0.95, 0.99))
  add("tolerance", n, p, g, NA, uniroot(function(k) pt(k * sqrt(n), n - 1, qnorm(p) * sqrt(n)) - g, c(0.1, 300), tol = 1e-10)$root)

# inverse prediction: where the 95 % band of the mean of lm() crosses y; a = y, value = lower, estimate, upper
x <- rep(c(460, 560, 670), each = 3); y <- c(3.92, 3.75, 4.03, 5.03, 5.27, 5.15, 6.21, 6.02, 6.44)
line <- lm(y ~ x)
end <- function(side, y0, low, high) uniroot(function(at) predict(line, data.frame(x = at), interval = "confidence")[, side] - y0, c(low, high), tol = 1e-9)$root
for (y0 in c(4.5, 5.7, 6.8)) {
  middle <- (y0 - coef(line)[[1]]) / coef(line)[[2]]
  add("inverse", y0, NA, NA, -1, end("upr", y0, middle - 200, middle))
  add("inverse", y0, NA, NA, 0, middle)
  add("inverse", y0, NA, NA, 1, end("lwr", y0, middle, middle + 200))
}
write.csv(do.call(rbind, rows), row.names = FALSE, quote = FALSE)
