// An emulated RP2040 with the door program, the stand-in for its boot ROM, a clock chip, a light sensor and switches.
import fs from "fs";
import { pathToFileURL } from "url";

export const SECOND = 1e9; // of the emulator's clock
const COUNTERS = 0x20041000;
const RAM = 0x20000000;

export async function boardOf(module, plan) {
  const { RP2040, ConsoleLogger, LogLevel } = await import(pathToFileURL(module).href);
  const program = fs.readFileSync(plan.program);
  const rp = new RP2040();
  rp.logger = new ConsoleLogger(LogLevel.Error, true);
  const { core, clock, gpio } = rp;

  // What the boot ROM does: checks the second stage's CRC-32, copies it to RAM and runs it with nothing to return to.
  function boot() {
    let crc = 0xffffffff;
    for (const byte of program.subarray(0, 252)) {
      crc ^= byte << 24;
      for (let bit = 0; bit < 8; bit++) crc = crc & 0x80000000 ? (crc << 1) ^ 0x04c11db7 : crc << 1;
    }
    if (crc >>> 0 !== program.readUInt32LE(252)) throw new Error("the second stage's checksum is wrong");
    core.reset();
    rp.sram.fill(0xa5); // what the stack has used will no longer bear this
    rp.sram.fill(0, COUNTERS - RAM, COUNTERS - RAM + 16);
    rp.sram.set(program.subarray(0, 256), 0x41f00);
    core.registers[13] = 0x20041f00;
    core.registers[14] = 0;
    core.PC = 0x20041f00;
  }

  rp.bootrom.set(new Uint32Array(new Uint8Array(fs.readFileSync(plan.rom)).slice().buffer));
  rp.flash.set(program);
  // The register that says why the chip has started, which the emulator lacks: a power-up.
  const causes = { readUint32: () => 0x100, writeUint32: () => {}, writeUint32Atomic: () => {} };
  rp.peripherals[0x40064] = causes;
  const board = { rp, lux: 0, log: "", resets: 0, both: 0, awake: 0 };
  const watchdog = rp.peripherals[0x40058];
  watchdog.onWatchdogTrigger = () => {
    board.resets++; // the run ends here; left on, the emulator's watchdog would bite for ever at this moment
    watchdog.alarm.enable = false;
  };
  rp.uart[0].onByte = (byte) => (board.log += String.fromCharCode(byte));

  // A DS3231: the time of the record, registers written as they are.
  const registers = new Uint8Array(19);
  let pointer = -1;
  const bcd = (value) => (Math.floor(value / 10) << 4) | value % 10;
  function setTime(seconds) {
    const at = new Date(Date.UTC(2000, 0, 1) + seconds * 1000);
    const parts = [at.getUTCSeconds(), at.getUTCMinutes(), at.getUTCHours(), 1, at.getUTCDate(), at.getUTCMonth() + 1];
    registers.set([...parts, at.getUTCFullYear() - 2000].map(bcd));
  }
  // And a BH1750: two bytes of 1.2 counts a lux.
  const SENSOR = 0x23;
  const bus = rp.i2c[0];
  let [talksTo, byte] = [0, 0];
  bus.onConnect = (address) => {
    [talksTo, byte] = [address, 0];
    bus.completeConnect(address === 0x68 || address === SENSOR);
  };
  bus.onStart = (again) => {
    if (!again) pointer = -1;
    bus.completeStart();
  };
  bus.onWriteByte = (value) => {
    if (talksTo === SENSOR) return bus.completeWrite(true);
    if (pointer < 0) pointer = value;
    else registers[pointer++] = value;
    bus.completeWrite(true);
  };
  bus.onReadByte = () => {
    const raw = Math.floor((board.lux * 6 + 4) / 5);
    if (talksTo === SENSOR) return bus.completeRead(byte++ ? raw & 255 : raw >> 8);
    bus.completeRead(registers[pointer++ % registers.length]);
  };

  const levels = new Map();
  function level(pin, high) {
    if (levels.get(pin) === high) return; // the emulator takes each call for an edge
    levels.set(pin, high);
    gpio[pin].setInputValue(high);
  }

  function runUntil(nanos) {
    while (clock.nanos < nanos && board.resets === 0) {
      if (core.waiting && core.pendingInterrupts & core.enabledInterrupts) {
        core.waiting = false; // one that came before WFI: the emulator would sleep on it
        core.interruptsUpdated = true;
      }
      if (core.waiting) {
        const next = clock.nextAlarm ? clock.nanosToNextAlarm : Infinity;
        clock.tick(Math.max(1, Math.min(next, nanos - clock.nanos))); // 1 ns: sums of fractions fall short
      } else {
        const cycles = core.executeInstruction();
        board.awake += cycles;
        clock.tick((cycles * 1e9) / rp.clkSys);
      }
    }
  }

  const motor = () => (gpio[plan.pins.raise].outputValue ? 1 : 0) | (gpio[plan.pins.lower].outputValue ? 2 : 0);
  for (const pin of [plan.pins.raise, plan.pins.lower]) gpio[pin].addListener(() => (board.both += motor() === 3));

  // The end switches, made or not; those of the hand and the pulse are high at rest.
  board.switches = (top, bottom) => {
    level(plan.pins.top, plan.closed ? !!top : !top);
    level(plan.pins.bottom, plan.closed ? !!bottom : !bottom);
  };
  for (const pin of [plan.pins.pulse, ...Object.values(plan.pins.hand)]) level(pin, true);
  const ram = (at, n) => rp.sram.subarray(at - RAM, at - RAM + n);
  const word = (n) => rp.sramView.getUint32(COUNTERS - RAM + 4 * n, true);
  const stack = () => {
    let end = plan.stack_from - RAM;
    while (rp.sram[end] === 0xa5) end++;
    return 0x40000 - end;
  };
  const counted = () => ({ stack: stack(), erases: word(0), programs: word(1), faults: word(2) });
  const speed = () => (gpio[plan.pins.speed].functionSelect === 4 ? 1 : 0);
  return Object.assign(board, { boot, setTime, level, runUntil, motor, speed, ram, counted });
}
