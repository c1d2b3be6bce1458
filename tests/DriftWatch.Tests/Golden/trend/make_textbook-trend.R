# Series that textbooks make in R from set.seed(1), with sandwich's and nlme's numbers for them.
#   hac: Hanck, Arnold, Gerber and Schmelzer, 'Introduction to Econometrics with R', section 15.4
#   walk: Cowpertwait and Metcalfe, 'Introductory Time Series with R' (2009), section 5.4
suppressPackageStartupMessages({ library(sandwich); library(nlme); library(jsonlite) })
set.seed(1)
e <- as.numeric(arima.sim(n = 100, model = list(ma = 0.5))); x <- runif(100, 1, 10); y <- 0.5 * x + e
fit <- lm(y ~ x)
hac <- list(x = x, y = y, errors = unname(sqrt(diag(NeweyWest(fit, lag = 2, prewhite = FALSE, adjust = TRUE)))), coefficients = unname(coef(fit)))
set.seed(1)
z <- w <- rnorm(100, sd = 20)
for (t in 2:100) z[t] <- 0.8 * z[t - 1] + w[t]
y <- 50 + 3 * (1:100) + z; t <- 1:100
fits <- lapply(c(REML = "REML", ML = "ML"), function(method) {
  g <- gls(y ~ t, correlation = corAR1(0.8), method = method, control = glsControl(tolerance = 1e-12, msTol = 1e-15))
  unname(c(coef(g), sqrt(diag(g$varBeta)), coef(g$modelStruct$corStruct, unconstrained = FALSE)))
})
out <- list(source = "R, stats, sandwich NeweyWest, nlme gls", tolerance = 1e-6, hac = hac, walk = c(list(y = y), fits))
cat(toJSON(out, digits = NA, auto_unbox = TRUE))
