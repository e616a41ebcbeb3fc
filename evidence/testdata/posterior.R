# Second route to the closure model of package evidence: the same model written
# again in R, with other quadratures, and its posterior by random walks.
# Run in this folder: Rscript posterior.R > posterior.csv
t <- read.csv("../data/evidence.csv", stringsAsFactors = FALSE)
num <- function(x) suppressWarnings(as.numeric(x))
ids <- c("E001", "E002", "E003", "E004", "E006", "E014", "E015", "E029", "E035", "E047", "E048", "E049", "E050", "E051", "E056", "E059", "E061")
d <- t[match(ids, t$id), ]
total <- t[match(ifelse(d$stratum_of == "", d$id, d$stratum_of), t$id), ]
m <- ifelse(is.na(num(total$mld_sd_um)), 400, num(total$mld_mean_um))
s <- ifelse(is.na(num(total$mld_sd_um)), 156, num(total$mld_sd_um))
v <- log(1 + s^2 / m^2)
low <- ifelse(is.na(num(d$size_low_um)), 1e-9, num(d$size_low_um) - 0.5)
high <- ifelse(is.na(num(d$size_high_um)), 1e9, num(d$size_high_um) + 0.5)
# diameters at the middles of 4000 equally probable parts of each stratum
parts <- 4000
size <- t(sapply(seq_along(ids), function(i) {
  a <- plnorm(low[i], log(m[i]) - v[i] / 2, sqrt(v[i])); b <- plnorm(high[i], log(m[i]) - v[i] / 2, sqrt(v[i]))
  qlnorm(a + (b - a) * (seq_len(parts) - 0.5) / parts, log(m[i]) - v[i] / 2, sqrt(v[i]))
}))
x <- (size - 500) / 100
air <- d$tamponade_class == "air"
k <- d$events; n <- d$eyes
study <- match(d$study, unique(d$study))
# ln of the study integrals by a fine rectangle rule over u
u <- seq(-8, 8, length.out = 801)
logpost <- function(q) {
  tau <- exp(q[4]); us <- u * tau; h <- us[2] - us[1]
  cell <- matrix(0, length(ids), length(us))
  for (i in seq_along(ids)) {
    base <- q[1] + q[2] * x[i, ] + if (air[i]) q[3] else 0
    p <- colMeans(plogis(outer(base, us, "+")))
    cell[i, ] <- k[i] * log(p) + (if (n[i] > k[i]) (n[i] - k[i]) * log1p(-p) else 0)
  }
  l <- rowsum(cell, study)
  for (j in seq_len(nrow(l))) l[j, ] <- l[j, ] + dnorm(us, 0, tau, log = TRUE)
  top <- apply(l, 1, max)
  sum(top + log(rowSums(exp(l - top)) * h)) + dnorm(q[1], 0, 5, TRUE) + dnorm(q[2], 0, 1, TRUE) + dnorm(q[3], 0, 2, TRUE) +
    dnorm(tau, 0, 1, TRUE) + log(tau)
}
say <- function(what, value) cat(sprintf("%s,%.9g\n", what, value))
cat("what,value\n")
points <- list(c(2.8, -0.7, -1.7, 0), c(2.2, -0.5, -1, -0.7), c(3.5, -0.9, -2.5, 0.4), c(2, -0.3, 0, -2))
first <- logpost(points[[1]])
for (i in 2:4) say(paste0("log_posterior_", i, "_less_1"), logpost(points[[i]]) - first)
# For the walk a coarser grid is enough.
u <- seq(-5, 5, length.out = 61); keep <- seq(50, 3950, by = 100); x <- x[, keep]
best <- optim(points[[1]], function(q) -logpost(q), control = list(maxit = 2000, reltol = 1e-10), hessian = TRUE)
for (i in 1:4) say(paste0("mode_", i), best$par[i])
L <- t(chol(solve(best$hessian))) * 2.38 / 2
set.seed(7); steps <- 60000; q <- best$par; lq <- logpost(q); kept <- matrix(0, steps, 4); took <- 0
for (i in seq_len(steps)) {
  p <- q + L %*% rnorm(4); lp <- logpost(as.vector(p))
  if (log(runif(1)) < lp - lq) { q <- as.vector(p); lq <- lp; took <- took + 1 }
  kept[i, ] <- q
}
kept <- kept[-(1:500), ]
say("accepted", took / steps)
name <- c("intercept", "slope", "air")
for (i in 1:3) for (w in c("mean", "low", "high"))
  say(paste0(name[i], "_", w), switch(w, mean = mean(kept[, i]), low = quantile(kept[, i], 0.025), high = quantile(kept[, i], 0.975)))
sd <- exp(kept[, 4])
for (w in c("mean", "low", "high")) say(paste0("study_sd_", w), switch(w, mean = mean(sd), low = quantile(sd, 0.025), high = quantile(sd, 0.975)))
flap <- log(4.8) + log(8.3 / 2.77) / (2 * qnorm(0.975)) * rnorm(nrow(kept))
for (size in c(250, 400, 650, 800)) for (technique in c("peel", "flap")) for (gas in c("gas", "air")) {
  eta <- kept[, 1] + kept[, 2] * (size - 500) / 100 + (if (gas == "air") kept[, 3] else 0) + (if (technique == "flap") flap else 0)
  p <- plogis(eta + sd * rnorm(nrow(kept)))
  tag <- paste("expected", size, technique, gas, sep = "_")
  say(paste0(tag, "_mean"), mean(p)); say(paste0(tag, "_low"), quantile(p, 0.025)); say(paste0(tag, "_high"), quantile(p, 0.975))
  say(paste0("middle", substring(tag, 9), "_median"), median(plogis(eta)))
}
