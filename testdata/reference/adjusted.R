# Differences of two foods with a trend, carry-over and first-order correlation.
y <- c(10,14,13,18,15,22,19,21); food <- factor(c(1,2,1,2,2,1,1,2)); block <- factor(c(1,1,2,2,3,3,4,4)); day <- 0:7
options(digits=15)
print(coef(summary(lm(y ~ food + block + day)))["food2",1:2])
p2 <- c(0, as.integer(food[-8]=="2"))
print(coef(summary(lm(y ~ food + block + p2)))["food2",1:2])
m <- lm(y ~ food + block); r <- resid(m); rho <- sum(r[-1]*r[-8])/sum(r[-8]^2)
X <- model.matrix(m); Z <- X; w <- y
Z[1,] <- sqrt(1-rho^2)*X[1,]; w[1] <- sqrt(1-rho^2)*y[1]
for (i in 2:8) { Z[i,] <- X[i,]-rho*X[i-1,]; w[i] <- y[i]-rho*y[i-1] }
g <- lm(w ~ Z - 1); print(c(rho, coef(summary(g))["Zfood2",1:2]))
