# Makes prediction_results.csv: reach of m fresh values (multivariate t), the chance to notice a shift, a prediction by lm.
library(mvtnorm)
set.seed(1)
rows <- list()
add <- function(...) rows[[length(rows) + 1]] <<- data.frame(...)
correlated <- function(n, m) { r <- matrix(1 / (n + 1), m, m); diag(r) <- 1; r }
fine <- function() GenzBretz(maxpts = 2e5, abseps = 1e-5)
for (n in c(3, 6)) for (df in c(2, 11)) for (m in c(2, 6)) for (error in c(0.05, 0.00625)) {
  outside <- function(t) 1 - pmvt(lower = rep(-t, m), upper = rep(t, m), df = df, corr = correlated(n, m), algorithm = fine())
  start <- qt(1 - error / 2, df)
  t <- uniroot(function(t) outside(t) - error, c(0.95 * start, 1.05 * qt(1 - error / (2 * m), df)), tol = 1e-4)$root
  add(what = "reach", n = n, m = m, df = df, error = error, shift = 0, value = t * sqrt(1 + 1 / n))
}
for (n in c(3, 6)) for (df in c(6)) for (m in c(2, 5)) for (shift in c(2, 4)) {
  t <- 4
  away <- rep(shift / sqrt(1 + 1 / n), m)
  p <- 1 - pmvt(lower = rep(-t, m) - away, upper = rep(t, m) - away, df = df, corr = correlated(n, m), algorithm = fine())
  add(what = "chance outside", n = n, m = m, df = df, error = NA, shift = shift, value = as.numeric(p))
}
values <- c(5.64, 5.78, 5.74, 6.00, 6.05, 6.10, 5.03, 5.27)
wick <- factor(c("a", "a", "a", "b", "b", "b", "c", "c"))
found <- predict(lm(values ~ wick), data.frame(wick = c("a", "c")), interval = "prediction", level = 0.95)
add(what = "lm low", n = c(3, 2), m = 1, df = 5, error = 0.05, shift = 0, value = found[, "lwr"])
add(what = "lm high", n = c(3, 2), m = 1, df = 5, error = 0.05, shift = 0, value = found[, "upr"])
write.csv(do.call(rbind, rows), "prediction_results.csv", row.names = FALSE)
