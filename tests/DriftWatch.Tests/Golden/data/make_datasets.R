# The data sets of R's own 'datasets' package that the tests of the mathematics use, as plain arrays.
library(jsonlite)
sets <- list(
  source = "R, package datasets; morley as speed of light/1000 + 299, which is NIST StRD Michelso",
  Nile = as.numeric(Nile), LakeHuron = as.numeric(LakeHuron), nhtemp = as.numeric(nhtemp),
  airmiles = as.numeric(airmiles), lh = as.numeric(lh), morley = morley$Speed / 1000 + 299,
  AirPassengers = as.numeric(AirPassengers), nottem = as.numeric(nottem), longley = as.list(longley))
cat(toJSON(sets, digits = NA, auto_unbox = TRUE))
