# Generalised least squares with corAR1 by nlme, Newey-West by sandwich, Mann-Kendall by cor.test, and Hamed and Rao's correction
# with its sum signed, as the paper has it, coded here apart from the product. t = 1..n; seasonal scores after Hirsch, Slack and Smith.
suppressMessages({library(jsonlite); library(nlme); library(sandwich)})
score <- function(x) { n <- length(x); s <- 0; for (i in 1:(n - 1)) s <- s + sum(sign(x[(i + 1):n] - x[i])); s }
variance <- function(x) { n <- length(x); e <- table(x); (n * (n - 1) * (2 * n + 5) - sum(e * (e - 1) * (2 * e + 5))) / 18 }
sen <- function(x) { n <- length(x); d <- outer(x, x, "-"); k <- outer(1:n, 1:n, "-"); median((d / k)[lower.tri(d)]) }
test <- function(s, v) { z <- (s - sign(s)) / sqrt(v); c(s, v, z, 2 * pnorm(-abs(z))) }
hamedrao <- function(x, lags) {
  n <- length(x); r <- rank(x - sen(x) * (1:n))
  rho <- acf(r, lag.max = n - 1, plot = FALSE)$acf[-1]
  i <- seq_len(lags); i <- i[abs(rho[i]) > qnorm(0.975) / sqrt(n)]
  test(score(x), variance(x) * (1 + 2 / (n * (n - 1) * (n - 2)) * sum((n - i) * (n - i - 1) * (n - i - 2) * rho[i])))
}
seasonal <- function(x, k) {
  s <- 0; v <- 0
  for (g in 1:k) { part <- x[seq(g, length(x), by = k)]; s <- s + score(part); v <- v + variance(part) }
  test(s, v)
}
out <- list(source = "R: nlme::gls(corAR1), sandwich::NeweyWest(prewhite=FALSE), cor.test(continuity=TRUE), Hamed-Rao coded here",
            tolerance = 1e-6)
for (name in c("Nile", "LakeHuron", "nhtemp", "airmiles", "lh")) {
  x <- as.numeric(get(name)); n <- length(x); t <- 1:n
  one <- list(mannKendall = test(score(x), variance(x)), hamedRao = hamedrao(x, n - 1), hamedRao3 = hamedrao(x, 3))
  kendall <- suppressWarnings(cor.test(t, x, method = "kendall", exact = FALSE, continuity = TRUE))
  one$corTest <- c(kendall$statistic, kendall$p.value)
  fit <- lm(x ~ t)
  one$neweyWest <- lapply(c("1" = 1, "3" = 3, "5" = 5, "10" = 10), function(l) sqrt(diag(NeweyWest(fit, lag = l, prewhite = FALSE))))
  if (name %in% c("Nile", "LakeHuron", "nhtemp")) for (method in c("REML", "ML")) {
    g <- gls(x ~ t, correlation = corAR1(form = ~t), method = method, control = glsControl(tolerance = 1e-12, msTol = 1e-15))
    one[[method]] <- c(coef(g), sqrt(diag(g$varBeta)),
                       coef(g$modelStruct$corStruct, unconstrained = FALSE))
  }
  # Prais and Winsten: nlme's generalised least squares at a fixed correlation, which keeps the first point, and that correlation from
  # regressing residuals on the ones before until it stands.
  if (name %in% c("Nile", "LakeHuron", "nhtemp")) {
    rho <- 0
    for (round in 1:200) {
      g <- gls(x ~ t, correlation = corAR1(rho, form = ~t, fixed = TRUE))
      e <- x - fitted(g)
      rho <- sum(e[-1] * e[-n]) / sum(e[-n]^2)
    }
    one$praisWinsten <- c(coef(g), sqrt(diag(g$varBeta)), rho)
  }
  out[[name]] <- lapply(one, unname)
  out[[name]]$neweyWest <- lapply(one$neweyWest, unname)
}
# Lake Huron with holes: nlme's corAR1 takes a covariate with missing places.
places <- setdiff(1:98, c(5, 6, 20:27, 50, 70:90)); x <- as.numeric(LakeHuron)[places]
out$holes <- lapply(c(REML = "REML", ML = "ML"), function(method) {
  g <- gls(x ~ places, correlation = corAR1(form = ~places), method = method, control = glsControl(tolerance = 1e-12, msTol = 1e-15))
  unname(c(coef(g), sqrt(diag(g$varBeta)), coef(g$modelStruct$corStruct, unconstrained = FALSE)))
})
# Noise with a correlation of -0.5 on a line: odd lags are negative, so the sum, and with it the variance, gets smaller.
x <- c(); state <- 99; e <- 0
for (i in 1:120) { state <- (state * 16807) %% 2147483647; e <- -0.5 * e + state / 2147483647 - 0.5; x[i] <- 0.001 * i + e }
out$negative <- list(mannKendall = test(score(x), variance(x)), hamedRao3 = hamedrao(x, 3), hamedRao = hamedrao(x, 119))
out$seasonal <- list(AirPassengers = seasonal(as.numeric(AirPassengers), 12), nottem = seasonal(as.numeric(nottem), 12))
w <- 0.9^(100 - 1:100)
out$fadingNile <- unname(coef(lm(as.numeric(Nile) ~ I(1:100), weights = w)))
cat(toJSON(out, digits = NA, auto_unbox = TRUE, pretty = TRUE))
