//! An upload that no clearance covers, shared by the test binaries that need a device that is firing.

use std::path::Path;

use saggar_client::link::port::PortConfig;
use saggar_client::link::{Client, Task};
use saggar_schedule::FiringPlan;

/// Uploads the programme of a schedule with the code of `upload`, but without a clearance, because no
/// firing as short as those of the tests passes. The client stays connected.
pub(crate) fn upload_without_clearance(schedule: &Path, key: &Path, port: &str) -> Client {
    let firing = FiringPlan::load(schedule, None).unwrap();
    let key = saggar_client::key::read(key).unwrap();
    let at = PortConfig { address: port.parse().unwrap(), baud: 115_200 };
    let mut client = Client::connect(&at).unwrap();
    let furnace = client.hello.furnace;
    let task = Task::Upload { programme: firing.image.bytes(), furnace };
    client.order(task, &key).unwrap();
    client
}
