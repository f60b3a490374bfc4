/* placeholder until prompt */
#include "logging.h"
bool logging_prompt(struct logging *lg, struct err *e) { (void)lg; return err_set(e, ERR_MISUSE, NULL, "nothing named"); }
