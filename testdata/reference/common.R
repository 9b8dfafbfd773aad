# What the scripts of this folder share: who made a file, and writing tables and
# JSON at full precision (15 significant digits). Computes nothing itself.

# made_by names R and the packages whose results end up in a file.
made_by <- function(packages = character()) {
  versions <- vapply(packages, function(p) paste(p, packageDescription(p)$Version), "")
  paste(c(R.version.string, versions), collapse = ", ")
}

full <- function(x) {
  if (!is.numeric(x)) return(ifelse(is.na(x), "", as.character(x)))
  ifelse(is.na(x) & !is.nan(x), "", formatC(x, digits = 15, format = "g", width = 1))
}

# write_table writes a CSV file with its comment lines; NA becomes empty.
write_table <- function(data, file, comments) {
  lines <- c(paste("#", comments), paste(names(data), collapse = ","),
             do.call(paste, c(lapply(unname(as.list(data)), full), sep = ",")))
  writeLines(lines, file)
}

# write_object writes a JSON file; NA becomes null.
write_object <- function(object, file) {
  jsonlite::write_json(object, file, digits = NA, auto_unbox = TRUE, pretty = TRUE,
                       na = "null", null = "null", dataframe = "rows")
}
