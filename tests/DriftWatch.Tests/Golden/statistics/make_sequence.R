# Geyer's initial monotone sequence by R's mcmc (by its author): n over what it makes of the variance of a mean, own mean taken out and not allowed for.
suppressPackageStartupMessages({ library(mcmc); library(jsonlite) })
size <- function(x) { s <- initseq(x); length(x) * s$gamma0 / s$var.dec }
set.seed(7)
slow <- as.numeric(arima.sim(n = 2000, model = list(ar = 0.9))) + rnorm(2000)
out <- list(source = "R, package mcmc, initseq", tolerance = 1e-9,
  Nile = size(as.numeric(Nile)), LakeHuron = size(as.numeric(LakeHuron)), lh = size(as.numeric(lh)),
  slow = list(values = slow, size = size(slow)))
cat(toJSON(out, digits = NA, auto_unbox = TRUE))
