//! Fields that no closed formula describes, solved on a mesh: each solver tells how far its answer still moves when the mesh is halved.
//! It knows no request and no workshop word: the stages hand it a plain problem. Never here: keys, warnings, sizes in millimetres.

pub mod contact;
pub mod dense;
pub mod elasticity;
pub mod film_grid;
pub mod graded_mesh;
pub mod heat;
pub mod multigrid;
pub mod nested_dissection;
