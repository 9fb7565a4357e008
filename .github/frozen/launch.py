"""Where the frozen program begins. Worker processes start here, too, and leave again for their own work."""

import multiprocessing

from app.main import main

if __name__ == "__main__":
    multiprocessing.freeze_support()
    main()
