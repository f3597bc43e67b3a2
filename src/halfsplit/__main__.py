"""python -m halfsplit"""

from halfsplit.cli.main import main

main()
