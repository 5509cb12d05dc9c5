import { hasMosquitto } from '../mosquitto.js'
import { KILLS } from './faultSize.js'
import { hasInflux } from './influx.js'
import { hasKafka } from './kafka.js'

const FULL_RUN_KILLS = 50

/** What a run with servers leaves out on this machine, a line each. */
export function serversNotTested(): readonly string[] {
  const skipped = (server: string, remedy: string) => `Not run: tests with ${server}, which is absent; ${remedy}`
  return [
    ...(hasMosquitto() ? [] : [skipped('Mosquitto', 'apt-get install mosquitto')]),
    ...(hasInflux() ? [] : [skipped('InfluxDB', 'apt-get install influxdb')]),
    ...(hasKafka() ? [] : [skipped('Kafka', 'tests/support/servers/fetch-kafka brings it, Java 17 runs it')]),
    ...(KILLS >= FULL_RUN_KILLS
      ? []
      : [`Short: tests of faults kill ${KILLS} times; with TURBIDRIFT_FAULT_KILLS=${FULL_RUN_KILLS} they run in full`]),
  ]
}
