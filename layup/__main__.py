from layup.cli import main

raise SystemExit(main())
