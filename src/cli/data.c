#include "cli.h"

const struct embedded embedded[] = {
#include "data.inc"
};

const size_t n_embedded = COUNT_OF(embedded);
