# Second route to the pooling of package evidence: rows chosen and added up
# again, marginal likelihood by integrate(), maximum by optim(), profile by
# uniroot(), posterior of a new unit on a plain grid.
# Run in this folder: Rscript pooling.R > pooling.csv
t <- read.csv("../data/evidence.csv", stringsAsFactors = FALSE)
t <- t[!is.na(t$eyes) & !is.na(t$events) & t$design != "meta", ]
units <- function(question, technique, tamponade = NULL, printed = FALSE) {
  r <- t[t$question == question & t$technique_class == technique, ]
  if (!is.null(tamponade)) r <- r[r$tamponade_class == tamponade, ]
  if (printed) r <- r[!grepl("eyes|events", r$derived), ]
  r <- r[!(r$stratum_of %in% r$id) & !(r$overlaps %in% r$id), ]
  aggregate(cbind(events, eyes) ~ study, r, sum)
}
marginal <- function(k, n, mu, sigma) {
  f <- function(th) dbinom(k, n, plogis(th)) * dnorm(th, mu, sigma)
  # where both factors live: integrate() needs the place of a narrow peak
  p <- (k + 0.5) / (n + 1); se <- 1 / sqrt((n + 1) * p * (1 - p))
  c0 <- (qlogis(p) / se^2 + mu / sigma^2) / (1 / se^2 + 1 / sigma^2); w <- 1 / sqrt(1 / se^2 + 1 / sigma^2)
  cuts <- c0 + w * c(-30, -8, -3, 0, 3, 8, 30)
  sum(sapply(seq_len(length(cuts) - 1), function(i) integrate(f, cuts[i], cuts[i + 1], rel.tol = 1e-10, abs.tol = 0, stop.on.error = FALSE)$value))
}
loglik <- function(u, mu, sigma) sum(log(mapply(marginal, u$events, u$eyes, MoreArgs = list(mu = mu, sigma = sigma))))
say <- function(...) cat(paste(..., sep = ","), "\n", sep = "")
say("question", "technique", "tamponade", "printed_only", "units", "events", "eyes", "middle", "low", "high", "homogeneous_loglik_gain", "new_mean", "new_low", "new_high", "sd_mean")
for (g in list(c("hole", "peel", "", ""), c("hole", "peel", "air", ""), c("hole", "peel", "", "yes"), c("hole", "no-peel", "", ""), c("hole", "inverted-flap", "", ""),
               c("persistent-hole", "hydrodissection", "", ""), c("persistent-hole", "retinal-transplant", "", ""), c("persistent-hole", "capsular-flap", "", ""), c("detachment", "vitrectomy", "", ""))) {
  u <- units(g[1], g[2], if (g[3] != "") g[3], g[4] == "yes")
  o <- optim(c(qlogis(sum(u$events) / sum(u$eyes)), log(0.5)), function(q) -loglik(u, q[1], exp(q[2])), control = list(reltol = 1e-12, maxit = 2000))
  ll0 <- { p <- sum(u$events) / sum(u$eyes); sum(dbinom(u$events, u$eyes, p, log = TRUE)) }
  flat <- -o$value <= ll0 + 1e-9 || exp(o$par[2]) < 1e-3
  best <- max(-o$value, ll0); mu <- if (flat) qlogis(sum(u$events) / sum(u$eyes)) else o$par[1]
  profile <- function(m) {
    v <- optimize(function(l) loglik(u, m, exp(l)), c(log(1e-3), log(10)), maximum = TRUE, tol = 1e-7)$objective
    max(v, sum(dbinom(u$events, u$eyes, plogis(m), log = TRUE)))
  }
  drop <- function(m) best - profile(m) - qchisq(0.95, 1) / 2
  low <- uniroot(drop, c(mu - 5, mu), tol = 1e-7)$root; high <- uniroot(drop, c(mu, mu + 6), tol = 1e-7)$root
  # posterior: mu ~ N(0, 10^2), sigma half-normal(1)
  ms <- seq(mu - 6, mu + 6, length.out = 141); ss <- seq(0.02, 4.5, length.out = 75)
  lp <- outer(ms, ss, Vectorize(function(m, s) {
    th <- m + s * seq(-8, 8, length.out = 321); w <- dnorm(seq(-8, 8, length.out = 321)) * 16 / 320
    sum(log(mapply(function(k, n) sum(w * dbinom(k, n, plogis(th))), u$events, u$eyes))) + dnorm(m, 0, 10, TRUE) + dnorm(s, 0, 1, TRUE)
  }))
  post <- exp(lp - max(lp)); post <- post / sum(post)
  z <- qnorm((1:100 - 0.5) / 100)
  cdf <- function(x) sum(post * outer(ms, ss, function(m, s) pnorm((qlogis(x) - m) / s)))
  q <- function(level) uniroot(function(x) cdf(x) - level, c(1e-6, 1 - 1e-9), tol = 1e-9)$root
  mean_new <- sum(post * outer(ms, ss, Vectorize(function(m, s) mean(plogis(m + s * z)))))
  say(g[1], g[2], g[3], g[4], nrow(u), sum(u$events), sum(u$eyes), sprintf("%.8g", plogis(mu)), sprintf("%.8g", plogis(low)), sprintf("%.8g", plogis(high)),
      sprintf("%.8g", best - ll0), sprintf("%.6g", mean_new), sprintf("%.6g", q(0.025)), sprintf("%.6g", q(0.975)), sprintf("%.6g", sum(t(post) * ss)))
}
