# The drift that is claimed, step by step in R: correlation of the whole record by nlme's gls and REML, means of 24 blocks, generalised least
# squares through them with their covariance from that correlation, variance from the blocks themselves (MASS::lm.gls does the same). The seeds are of
# series whose noise shows no second part.
suppressPackageStartupMessages({ library(nlme); library(MASS); library(jsonlite) })
one <- function(seed, rho, n) {
  set.seed(seed)
  t <- 0:(n - 1); y <- 10 + 0.002 * t + as.numeric(arima.sim(n = n, model = list(ar = rho)))
  g <- gls(y ~ t, correlation = corAR1(rho), control = glsControl(tolerance = 1e-12, msTol = 1e-15))
  phi <- unname(coef(g$modelStruct$corStruct, unconstrained = FALSE))
  block <- rep(1:24, each = n / 24)
  A <- outer(1:24, 1:n, function(k, i) (block[i] == k) * 24 / n)
  V <- A %*% phi^abs(outer(t, t, "-")) %*% t(A)
  m <- as.numeric(A %*% y); x <- as.numeric(A %*% t)
  fit <- lm.gls(m ~ x, W = V, inverse = TRUE)
  r <- m - cbind(1, x) %*% fit$coefficients
  s2 <- as.numeric(t(r) %*% solve(V, r)) / 22
  C <- s2 * solve(t(cbind(1, x)) %*% solve(V, cbind(1, x)))
  list(values = y, phi = phi, slope = unname(fit$coefficients[2]), error = sqrt(C[2, 2]), t = qt(0.975, 22))
}
out <- list(source = "R: nlme gls by REML, MASS lm.gls through block means", tolerance = 1e-6, quick = one(31, 0.3, 480), slow = one(17, 0.8, 1200))
cat(toJSON(out, digits = NA, auto_unbox = TRUE))
