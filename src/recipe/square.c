#include "neap/recipe.h"

bool recipe_pearson(double a, double b, double target, double *share_a_frac, struct err *e)
{
    if (!isfinite(a) || !isfinite(b) || !isfinite(target))
        return err_set(e, ERR_INPUT, NULL, "the contents of both feeds and of the mix must be numbers");
    if (a == b)
        return err_set(e, ERR_INPUT, NULL, "both feeds contain %.6g: no mix of them differs from it", a);
    if (target < fmin(a, b) || target > fmax(a, b))
        return err_set(e, ERR_INPUT, NULL, "no mix reaches %.6g; expected %.6g to %.6g, between the two feeds", target,
                       fmin(a, b), fmax(a, b));
    *share_a_frac = (target - b) / (a - b);
    return true;
}
