from perf.isolation.run import main

raise SystemExit(main())
