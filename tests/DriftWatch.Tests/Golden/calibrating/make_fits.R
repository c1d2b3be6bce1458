# Fits and intervals by R's lm and predict: the GUM's H.3 data, Norris from ../data, a weighted line and a cubic.
library(jsonlite)
t <- c(21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511)
b <- c(-.171, -.169, -.166, -.159, -.164, -.165, -.156, -.157, -.159, -.161, -.160)
norris <- fromJSON("../data/strd.json")$linear$Norris
fit <- function(x, y, degree, at, w = NULL, origin = 0) {
  x <- x - origin
  d <- data.frame(x = x, y = y)
  m <- if (is.null(w)) lm(y ~ poly(x, degree, raw = TRUE), d) else lm(y ~ poly(x, degree, raw = TRUE), d, weights = w)
  v <- vcov(m)
  if (!is.null(w)) v <- v / summary(m)$sigma^2
  p <- predict(m, data.frame(x = at - origin), se.fit = TRUE)
  list(coefficients = as.numeric(coef(m)), standard_errors = as.numeric(sqrt(diag(v))), covariance01 = v[1, 2],
       sigma = summary(m)$sigma, at = at, fit = as.numeric(p$fit),
       se_fit = as.numeric(p$se.fit) * (if (is.null(w)) 1 else 1 / summary(m)$sigma),
       t975 = qt(.975, m$df.residual), df = m$df.residual)
}
u <- 0.1 + 0.05 * seq_along(t)
cubic_x <- seq(-2, 7, length.out = 15)
cubic_y <- 1.5 - 0.7 * cubic_x + 0.02 * cubic_x^2 + 0.011 * cubic_x^3 + 0.05 * sin(17 * seq_along(cubic_x))
made <- list(
  source = paste("R", getRversion(), "lm, predict"), tolerance = 1e-8,
  h3 = fit(t, b, 1, c(20, 25, 30), origin = 20), u = u,
  norris = fit(norris$x, norris$y, 1, c(0, 300, 1100)),
  weighted = fit(t, b, 1, c(20, 25, 30), w = 1 / u^2, origin = 20),
  cubic_x = cubic_x, cubic_y = cubic_y, cubic = fit(cubic_x, cubic_y, 3, c(-2.5, 0, 3.3, 8)))
cat(toJSON(made, digits = NA, auto_unbox = TRUE))
