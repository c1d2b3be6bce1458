# Scales by robustbase and autocorrelations by R's acf. The numbers of Lehmer's generator stand for data of any length:
# n <- 16807 n mod 2147483647 from 20260101, divided by 2147483647.
suppressMessages(library(robustbase))
library(jsonlite)
lehmer <- function(count) {
  n <- 20260101; y <- numeric(count)
  for (i in seq_len(count)) { n <- (16807 * n) %% 2147483647; y[i] <- n / 2147483647 }
  y
}
qn <- function(x) Qn(x, constant = 1 / (sqrt(2) * qnorm(5 / 8)), finite.corr = TRUE, warn.finite.corr = FALSE)
scales <- function(x) list(n = length(x), median = median(x), mad = mad(x, constant = 1 / qnorm(3 / 4)),
                           qn = qn(x), sn = Sn(x))
sizes <- c(2:14, 50, 51, 100, 101, 1000, 2001)
named <- list(morley = morley$Speed / 1000 + 299, LakeHuron = as.numeric(LakeHuron), Nile = as.numeric(Nile), lh = as.numeric(lh),
              airmiles = as.numeric(airmiles))
made <- list(
  source = paste("R", getRversion(), "robustbase", packageVersion("robustbase")),
  lehmer = lapply(sizes, function(n) scales(lehmer(n))),
  ties = scales(floor(10 * lehmer(200))),
  sets = lapply(named, scales),
  acf = lapply(named, function(x) as.numeric(acf(x, lag.max = 20, plot = FALSE)$acf)),
  arma_order1 = lapply(named, function(x) as.numeric(ar(x, aic = FALSE, order.max = 1, method = "yule-walker")$ar)))
cat(toJSON(made, digits = NA, auto_unbox = TRUE))
