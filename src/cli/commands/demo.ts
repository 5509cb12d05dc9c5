import type { Command } from 'commander'
import { runDemo } from '../../service/demo.js'

/** `npm start`: not listed among the commands, for it is the tour and not a tool. */
export function addDemo(program: Command, keep: (running: Promise<number>) => Promise<void>): void {
  program
    .command('demo', { hidden: true })
    .description('Show the service on the invented plant')
    .option('--keep', 'go on running when the tour is over')
    .option('--connections <file>', 'connections.yaml: for instance an InfluxDB to be filled for a dashboard')
    .action(({ keep: stay, connections }: { readonly keep?: true; readonly connections?: string }) =>
      keep(runDemo({ keep: stay === true, ...(connections === undefined ? {} : { connectionsPath: connections }) })),
    )
}
