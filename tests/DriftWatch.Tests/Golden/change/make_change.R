# R's strucchange, an exact dynamic programme and Pettitt's statistic in plain R on R's own data sets.
suppressPackageStartupMessages({library(strucchange); library(jsonlite)})
bp <- function(x) {
  fit <- breakpoints(x ~ 1)
  b <- breakpoints(fit)$breakpoints
  list(breakpoints = I(b), interval = unname(confint(fit, breaks = length(b))$confint), rss = summary(fit)$RSS["RSS", ], bic = summary(fit)$RSS["BIC", ])
}
pettitt <- function(x) {
  n <- length(x)
  u <- 2 * cumsum(rank(x)) - seq_len(n) * (n + 1)
  k <- which.max(abs(u)); K <- max(abs(u))
  list(K = K, k = k, p = min(1, 2 * exp(-6 * K^2 / (n^3 + n^2))))
}
partition <- function(x, cost, beta, least) { # optimal partitioning, no pruning
  n <- length(x)
  f <- c(-beta, rep(Inf, n)); from <- rep(0, n)
  for (t in least:n) for (s in 0:(t - least)) if (is.finite(f[s + 1])) {
    v <- f[s + 1] + cost(x[(s + 1):t]) + beta
    if (v < f[t + 1]) { f[t + 1] <- v; from[t] <- s }
  }
  cps <- c(); t <- n
  while (from[t] > 0) { t <- from[t]; cps <- c(t, cps) }
  list(changes = I(if (is.null(cps)) numeric(0) else cps), cost = f[n + 1])
}
level <- function(x) sum((x - mean(x))^2) / 16000
least <- exp(1) * 1e-11 # least variance: two values of Nile are the same
both <- function(x) { n <- length(x); rss <- sum((x - mean(x))^2); v <- max(rss / n, least); n * log(2 * pi * v) + rss / v }
nile <- as.numeric(Nile); ln <- log(100)
set.seed(42)
steps <- round(c(rnorm(60), rnorm(40, 3), rnorm(50, 1), rnorm(50, -2)), 4)
# The made series of Killick and Eckley, Journal of Statistical Software 58(3), 2014, section 4 (from memory, and then its printed changes came out).
set.seed(10)
killick <- round(c(rnorm(100, 0, 1), rnorm(100, 1, 1), rnorm(100, 0, 1), rnorm(100, 0.2, 1)), 6)
# Least squares for every number of breaks, by strucchange's exact programme: what a penalised one must find the least sum of.
everyNumber <- function(x, least, most) {
  fit <- breakpoints(x ~ 1, h = least, breaks = most)
  list(least = least, rss = unname(summary(fit)$RSS["RSS", ]), breaks = lapply(1:most, function(m) I(breakpoints(fit, breaks = m)$breakpoints)))
}
out <- list(
  killick = killick,
  numbers = list(Nile = everyNumber(as.numeric(Nile), 5, 8), steps = everyNumber(steps, 10, 8)),
  strucchange = list(Nile = bp(Nile), LakeHuron = bp(LakeHuron), steps = bp(ts(steps))),
  pettitt = lapply(list(Nile = Nile, LakeHuron = LakeHuron, nhtemp = nhtemp, airmiles = airmiles, lh = lh), function(x) pettitt(as.numeric(x))),
  law = lapply(c(.5, 1, 3), function(r) list(ratio = r, at = c(-20, -5, -.5, 0, .5, 5, 20),
    p = strucchange:::pargmaxV(c(-20, -5, -.5, 1e-300, .5, 5, 20), phi1 = 1, phi2 = sqrt(r)))),
  steps = steps,
  nileLevel = list(`2` = partition(nile, level, 2 * ln, 1), `3` = partition(nile, level, 3 * ln, 1)),
  nileBoth = list(`3` = partition(nile, both, 3 * ln, 2), `4` = partition(nile, both, 4 * ln, 2)))
cat(toJSON(out, digits = NA, auto_unbox = TRUE))
