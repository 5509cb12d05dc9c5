#!/usr/bin/env node
import { buildProgram } from './program.js'
import { EXIT, processTerminal } from './terminal.js'

// A reader such as `head` that goes away is no fault of ours. A service goes on without it, and listens by itself.
process.stdout.on('error', (error: NodeJS.ErrnoException) => {
  if (process.stdout.listenerCount('error') > 1) return
  if (error.code === 'EPIPE') process.exit(EXIT.ok)
  throw error
})

process.exitCode = await buildProgram(processTerminal()).run(process.argv.slice(2))
