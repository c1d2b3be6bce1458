# Average run lengths and designs of R's package spc, and chart constants by quadrature.
suppressPackageStartupMessages({library(spc); library(jsonlite)})
mu <- c(0, .25, .5, .75, 1, 1.5, 2, 2.5, 3, 4)
cusum <- function(h, hs, sided) sapply(mu, function(m) as.numeric(xcusum.arl(.5, h, m, hs = hs, sided = sided, r = 100)))
ewma <- function(l, c) sapply(mu, function(m) as.numeric(xewma.arl(l, c, m, sided = "two", r = 100)))
ewmaRows <- list(c(.4, 3.054), c(.25, 2.998), c(.2, 2.962), c(.1, 2.814), c(.05, 2.615), c(.5, 3.071), c(.03, 2.437), c(.3, 3))
d2 <- function(n) integrate(function(x) 1 - pnorm(x)^n - (1 - pnorm(x))^n, -Inf, Inf, rel.tol = 1e-12)$value
out <- list(
  tolerance = 1e-7, mu = mu,
  cusum = list(
    h4_high = cusum(4, 0, "one"), h4_both = cusum(4, 0, "two"), h5_high = cusum(5, 0, "one"), h5_both = cusum(5, 0, "two"),
    h4_both_head2 = cusum(4, 2, "two"), h5_both_head2.5 = cusum(5, 2.5, "two"), h4_high_head2 = cusum(4, 2, "one")),
  cusumSteady_h4 = sapply(mu, function(m) as.numeric(xcusum.ad(.5, 4, m, r = 100))),
  cusumSpread_h4 = sapply(c(.8, 1.25), function(s) as.numeric(xcusum.arl(.5 / s, 4 / s, 0, r = 100))),
  cusumDesigns = list(
    k.5_both_370.4 = as.numeric(xcusum.crit(.5, 370.4, sided = "two", r = 100)),
    k.5_high_500 = as.numeric(xcusum.crit(.5, 500, r = 100)),
    k.25_both_10000 = as.numeric(xcusum.crit(.25, 10000, sided = "two", r = 100))),
  ewma = lapply(ewmaRows, function(p) list(weight = p[1], limit = p[2], arl = ewma(p[1], p[2]))),
  ewmaSteady_.1_2.814 = sapply(mu, function(m) as.numeric(xewma.ad(.1, 2.814, m, sided = "two", r = 100))),
  ewmaVarying_.1_2.7 = sapply(c(0, 1), function(m) as.numeric(xewma.arl(.1, 2.7, m, sided = "two", limits = "vacl", r = 100))),
  ewmaDesigns = list(
    w.2_370.4 = as.numeric(xewma.crit(.2, 370.4, sided = "two", r = 100)),
    w.1_500 = as.numeric(xewma.crit(.1, 500, sided = "two", r = 100))),
  # level from 20 means of five values, deviation with 80 degrees of freedom: Jones, Champ and Rigdon 2001, as spc's help has them
  ewmaEstimated = list(
    jones = sapply(c(0, 1), function(m) as.numeric(xewma.arl.prerun(.2, 2.636 / (sqrt(2) * gamma(40.5) / sqrt(80) / gamma(40)), m, sided = "two", size = 20, df = 80, estimated = "both", qm.mu = 70))),
    hundred = sapply(c(0, .5), function(m) as.numeric(xewma.arl.prerun(.1, 2.7, m, sided = "two", size = 100, df = 99, estimated = "both", qm.mu = 70)))),
  shewhart3 = sapply(c(0, 1, 2), function(m) 1 / (pnorm(-3 - m) + pnorm(-3 + m))),
  d2_2 = d2(2),
  d3_2 = sqrt(2 - d2(2)^2))
cat(toJSON(out, digits = NA, auto_unbox = TRUE))
