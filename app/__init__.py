"""The app. Linear algebra keeps to one thread in it: processes do the work side by side, and more
threads would take each other's processor. The libraries read that as they are loaded, so it is said
here, before anything of the app is; processes that it starts have it from there.
"""

import os

os.environ |= dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"), "1")
