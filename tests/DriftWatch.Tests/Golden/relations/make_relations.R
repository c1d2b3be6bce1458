# Cross-correlation by R's ccf and robust lines by robustbase; BJsales and its leading indicator are R's own data sets.
suppressMessages({library(jsonlite); library(robustbase); library(nlme)})
mm <- function(x, y) {
  fit <- lmrob(y ~ x, control = lmrob.control(rel.tol = 1e-12, refine.tol = 1e-12, max.it = 1000, k.max = 2000, nResample = 2000, seed = .Random.seed))
  c(coef(fit)[[2]], coef(fit)[[1]], fit$scale)
}
set.seed(1)
out <- list(source = "R stats::ccf, robustbase::lmrob, nlme::gls", tolerance = 1e-6)
lead <- as.numeric(BJsales.lead); sales <- as.numeric(BJsales)
out$lead <- lead; out$sales <- sales
out$ccfLevels <- as.numeric(ccf(sales, lead, lag.max = 12, plot = FALSE)$acf)
out$ccfChanges <- as.numeric(ccf(diff(sales), diff(lead), lag.max = 12, plot = FALSE)$acf)
data(starsCYG); data(telef); data(kootenay)
sets <- list(stars = list(starsCYG$log.Te, starsCYG$log.light), telef = list(telef$Year, telef$Calls), kootenay = list(kootenay$Libby, kootenay$Newgate))
for (name in names(sets)) {
  out[[name]] <- list(x = sets[[name]][[1]], y = sets[[name]][[2]], mm = mm(sets[[name]][[1]], sets[[name]][[2]]))
}
lake <- as.numeric(LakeHuron); n <- length(lake)
d <- data.frame(t = 1:n, y = lake, x = as.numeric(window(Nile, 1875, 1970))[1:96][c(1:96, 1, 2)][1:n])
g <- gls(y ~ x, d, correlation = corAR1(form = ~t), method = "REML", control = glsControl(tolerance = 1e-12, msTol = 1e-13, msMaxIter = 500))
out$gls <- list(x = d$x, y = d$y, slope = coef(g)[[2]], error = sqrt(vcov(g)[2, 2]), intercept = coef(g)[[1]], rho = coef(g$modelStruct$corStruct, unconstrained = FALSE)[[1]])
cat(toJSON(out, digits = 15, auto_unbox = TRUE, pretty = TRUE), "\n")
