"""Loops over single demands and counts, compiled at their first call and then kept beside their modules.

numpy can run them only over all SKUs, one demand or count after the other, and takes several times as long. Only this
package imports numba; who calls it imports it at the call, so that nothing waits for it at start-up. No function may
use fused or reordered arithmetic (``fastmath``): a record taken in two parts must give the bits of the whole.
"""
