# Forecast of a line by predict.lm, and the times at which its band of confidence touches a value, found on the band itself by
# uniroot: apart from any formula for the ratio of two estimates.
library(jsonlite)
touch <- function(fit, value, level, from, to, side) {
  f <- function(x) predict(fit, data.frame(t = x), interval = "confidence", level = level)[, side] - value
  uniroot(f, c(from, to), tol = 1e-12)$root
}
out <- list(source = "R: predict.lm; uniroot on its band", tolerance = 1e-8)
for (name in c("Nile", "LakeHuron")) {
  y <- as.numeric(get(name)); t <- seq_along(y); fit <- lm(y ~ t)
  ahead <- data.frame(t = length(y) + 10)
  out[[name]] <- list(prediction = as.numeric(predict(fit, ahead, interval = "prediction")),
                      confidence = as.numeric(predict(fit, ahead, interval = "confidence")))
}
y <- as.numeric(Nile); t <- seq_along(y); fit <- lm(y ~ t)
out$nileAt700 <- c(touch(fit, 700, .95, 100, 400, "lwr"), touch(fit, 700, .95, 100, 4000, "upr"))
# At 1 - 10^-7 the slope's interval holds 0, and the lower edge of the band touches 700 on the way ahead and on the way back.
out$nileAt700Unbounded <- c(touch(fit, 700, 1 - 1e-7, -4000, 50, "lwr"), touch(fit, 700, 1 - 1e-7, 50, 1000, "lwr"))
cat(toJSON(out, digits = NA, auto_unbox = TRUE, pretty = TRUE))
