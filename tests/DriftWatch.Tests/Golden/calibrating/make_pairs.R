# Pairs: Student's sleep data and a made loop by t.test; two calibrations by lm and predict, Welch and Satterthwaite's degrees of freedom
# for their difference; the level at which NIST's Norris line meets nothing, by the delta method on vcov.
library(jsonlite)
paired <- function(down, up) {
  t <- t.test(down, up, paired = TRUE)
  list(mean = unname(t$estimate), error = t$stderr, df = unname(t$parameter), p = t$p.value)
}
up <- 0:10
upY <- round(2 + 0.5 * up + 0.03 * sin(3 * up), 4)
down <- seq(10.5, -0.25, by = -0.75)
downY <- round(2.05 + 0.5 * down + 0.03 * cos(5 * down), 4)
x <- c(0, 2.5, 5, 7.5, 10, 12.5)
older <- c(0.02, 2.49, 5.05, 7.46, 10.03, 12.51)
newer <- c(0.11, 2.66, 5.1, 7.69, 10.15, 12.72)
at <- c(0, 4, 6.25, 12.5)
a <- predict(lm(older ~ x), data.frame(x = at), se.fit = TRUE)
b <- predict(lm(newer ~ x), data.frame(x = at), se.fit = TRUE)
v <- a$se.fit^2 + b$se.fit^2
norris <- fromJSON("../data/strd.json")$linear$Norris
line <- lm(norris$y ~ norris$x)
k <- unname(coef(line)); g <- c(-1 / k[2], k[1] / k[2]^2)
cat(toJSON(list(
  source = paste("R", getRversion(), "t.test, lm, predict"), tolerance = 1e-8,
  student = c(paired(sleep$extra[11:20], sleep$extra[1:10]), list(first = sleep$extra[1:10], second = sleep$extra[11:20])),
  up = up, upY = upY, down = down, downY = downY, loop = paired(approx(down, downY, up)$y, upY),
  x = x, older = older, newer = newer, at = at, drift = unname(b$fit - a$fit), error = unname(sqrt(v)),
  df = unname(v^2 / (a$se.fit^4 / a$df + b$se.fit^4 / b$df)),
  nothing = -k[1] / k[2], nothingError = sqrt(drop(g %*% vcov(line) %*% g))), digits = NA, auto_unbox = TRUE, pretty = TRUE))
