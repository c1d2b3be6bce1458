# Recoveries by R: nls for independent noise, nlme's gnls with correlated noise, robustbase's nlrob with wild points.
suppressMessages({library(jsonlite); library(nlme); library(robustbase)})
lehmer <- function(n, seed) { y <- numeric(n); for (i in 1:n) { seed <- (seed * 16807) %% 2147483647; y[i] <- seed / 2147483647 }; y }
out <- list(source = "R nls (profile by lm at fixed tau), nlme::gnls (ML, corAR1 and corCAR1), robustbase::nlrob", tolerance = 1e-5)
u <- lehmer(400, 20260101)
t <- (0:119) * 0.5
noise <- qnorm(u[1:120]) * 0.1
y <- 5 - 3 * exp(-t / 12) + noise
free <- nls(y ~ a + b * exp(-t / tau), start = list(a = 5, b = -3, tau = 10), control = nls.control(tol = 1e-7, nDcentral = TRUE))
out$t <- t; out$y <- y
out$free <- c(coef(free)[["tau"]], summary(free)$parameters["tau", 2], coef(free)[["a"]], coef(free)[["b"]], sigma(free))
level <- nls(y ~ 5 + b * exp(-t / tau), start = list(b = -3, tau = 10), control = nls.control(tol = 1e-7, nDcentral = TRUE))
out$level <- c(coef(level)[["tau"]], summary(level)$parameters["tau", 2], coef(level)[["b"]], sigma(level))
tau <- coef(free)[["tau"]]
rss <- function(k) deviance(lm(y ~ exp(-t / k)))
beyond <- function(k) (rss(k) - deviance(free)) / sigma(free)^2 - qt(0.975, df.residual(free))^2
out$profile <- c(uniroot(beyond, c(tau / 3, tau), tol = 1e-10)$root, uniroot(beyond, c(tau, 3 * tau), tol = 1e-10)$root)
e <- as.numeric(stats::filter(0.1 * qnorm(u[201:400]), 0.6, "recursive"))
t2 <- 0:199
y2 <- 2 + 4 * exp(-t2 / 25) + e
d <- data.frame(t2, y2)
g <- gnls(y2 ~ a + b * exp(-t2 / tau), d, start = c(a = 2, b = 4, tau = 25), correlation = corAR1(0.6, form = ~t2),
          control = gnlsControl(tolerance = 1e-7, nlsTol = 1e-6, maxIter = 500))
rho <- coef(g$modelStruct$corStruct, unconstrained = FALSE)[[1]]
f <- gnls(y2 ~ a + b * exp(-t2 / tau), d, start = coef(g), correlation = corAR1(0.6, form = ~t2, fixed = TRUE),
          control = gnlsControl(tolerance = 1e-7, nlsTol = 1e-6, maxIter = 500))
out$y2 <- y2
out$gnls <- c(coef(g)[["tau"]], rho)
out$fixed06 <- c(coef(f)[["tau"]], sqrt(vcov(f)["tau", "tau"]), coef(f)[["a"]], coef(f)[["b"]])
keep <- t2 %% 7 != 3 & t2 %% 11 != 5
h <- d[keep, ]
k <- gnls(y2 ~ a + b * exp(-t2 / tau), h, start = coef(g), correlation = corCAR1(0.6, form = ~t2, fixed = TRUE),
          control = gnlsControl(tolerance = 1e-7, nlsTol = 1e-6, maxIter = 500))
out$gappy06 <- c(coef(k)[["tau"]], sqrt(vcov(k)["tau", "tau"]), coef(k)[["a"]], coef(k)[["b"]])
wild <- y
wild[seq(5, 120, by = 10)] <- wild[seq(5, 120, by = 10)] + rep(c(2, -1.5, 3), 4)
out$wild <- wild
r <- nlrob(wild ~ a + b * exp(-t / tau), data.frame(t, wild), start = list(a = 5, b = -3, tau = 10), tol = 1e-10, maxit = 500)
out$nlrob <- as.numeric(coef(r)[c("tau", "a", "b")])
cat(toJSON(out, digits = 15, auto_unbox = TRUE, pretty = TRUE), "\n")
