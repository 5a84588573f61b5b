#!/bin/sh
# Builds the page into ../dist, from where it is embedded: go generate runs this
# in the package's folder.
set -eu
cd "$(dirname "$0")"
npm ci --no-fund --no-audit --loglevel=error
npm run --silent check
npm run --silent test
npm run --silent build
